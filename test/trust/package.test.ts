// What is shipped: nothing but what is needed, with the notices of what others wrote, and the same bytes from the same sources.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { globSync } from 'tinyglobby';
import { vehicleSchema } from '../../server/src/formats/vehicle/vehicleSchema.js';
import { RULES } from '../../server/src/findings/registry.js';
import { ALLOWED, bundledPackages, noticesOf } from '../support/makeLicences.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const manifest = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as {
  dependencies: Record<string, string>;
  engines: { vscode: string };
  icon: string;
  categories: string[];
  keywords: string[];
  main: string;
  contributes: {
    languages: { configuration: string }[];
    grammars: { path: string }[];
    viewsContainers?: { activitybar: { icon: string }[] };
    walkthroughs: { steps: { media: { image?: string; markdown?: string } }[] }[];
  };
};

/** What `vsce` would put into the package, by its own reading of .vscodeignore. */
function listed(): string[] {
  const { stdout, stderr, status } = spawnSync(process.execPath, ['node_modules/@vscode/vsce/vsce', 'ls', '--no-dependencies'], {
    cwd: ROOT,
    encoding: 'utf8',
  });
  assert.equal(status, 0, stderr);
  return stdout
    .split('\n')
    .filter((line) => line !== '')
    .sort();
}

suite('trust: the package', () => {
  test('holds what is needed and nothing else', () => {
    const needed = [
      /^package(?:\.nls(?:\.[\w-]+)?)?\.json$/,
      /^(?:README|CHANGELOG|THIRD-PARTY)\.md$/,
      /^LICENSE$/,
      /^client\/media\/[\w-]+\.(?:png|svg|md)$/,
      /^client\/sample\/bramble-coupe\/[\w./-]+\.(?:csv|json|md)$/,
      /^syntaxes\/[\w.-]+\.json$/,
      /^server\/docs\/[\w./-]+\.md$/,
      /^l10n\/[\w.-]+\.json$/,
      /^dist\/(?:extension|leanspot|server|\w+)\.c?js$/,
      /^dist\/(?:browser|web)\/[\w.-]+$/,
      /^dist\/(?:vehicle\.schema|package)\.json$/,
      /^dist\/webview\/[\w.-]+\.(?:js|css)$/,
    ];
    const files = listed();
    assert.deepEqual(
      files.filter((file) => !needed.some((pattern) => pattern.test(file))),
      [],
    );
    for (const file of ['package.json', 'package.nls.json', 'README.md', 'CHANGELOG.md', 'LICENSE', manifest.icon])
      assert.ok(files.includes(file), file);
    for (const path of [
      ...manifest.contributes.languages.map(({ configuration }) => configuration),
      ...manifest.contributes.grammars.map(({ path }) => path),
      ...(manifest.contributes.viewsContainers?.activitybar ?? []).map(({ icon }) => icon),
      ...manifest.contributes.walkthroughs.flatMap(({ steps }) => steps.map(({ media: { image, markdown } }) => image ?? markdown!)),
    ]) {
      assert.ok(files.includes(path.replace(/^\.\//, '')), path);
    }
  });

  test("what a rule's page and its tests are made of is left out of the server, which has no use for it", () => {
    const users = globSync(['server/src/{disk,lsp,report,service}/**/*.ts', 'server/src/findings/*.ts'], { cwd: ROOT })
      .filter((file) => !/findings\/(?:finding|page)\.ts$/.test(file))
      .filter((file) =>
        /\bdocs\.(?!title|computed)|\brule\.sample|\{[^{}]*\bsample\b[^{}]*\}: Rule\b/.test(readFileSync(join(ROOT, file), 'utf8')),
      );
    assert.deepEqual(users, []);
    const {
      docs: { meaning },
      code,
    } = RULES[0];
    const server = readFileSync(join(ROOT, 'dist/server.js'), 'utf8');
    assert.ok(server.includes(code) && !server.includes(meaning));
  });

  test("the vehicle file's schema asks for no `format`, which the server does not check: what its library has for that is left out", () => {
    assert.doesNotMatch(JSON.stringify(vehicleSchema), /"format":/);
  });

  test('has an icon of at least 128 pixels, categories, keywords, and a changelog that begins with a version', () => {
    const png = readFileSync(join(ROOT, manifest.icon));
    assert.equal(png.subarray(1, 4).toString(), 'PNG');
    assert.ok(png.readUInt32BE(16) >= 128 && png.readUInt32BE(20) >= 128);
    assert.ok(manifest.categories.length > 0 && manifest.keywords.length > 0);
    assert.match(readFileSync(join(ROOT, 'CHANGELOG.md'), 'utf8'), /^# Changelog\n\n## (?:\d+\.\d+\.\d+|Unreleased)\n/);
  });

  test('the notices that it carries name every library in its bundles, all under licences that allow it', async () => {
    const packages = await bundledPackages();
    assert.ok(packages.length > 5);
    for (const { name, licence } of packages)
      assert.ok(
        licence.split(/ (?:OR|AND) /).every((each) => ALLOWED.includes(each.replace(/[()]/g, ''))),
        `${name}: ${licence}`,
      );
    const notices = noticesOf(packages);
    for (const { name, text } of packages)
      assert.ok(
        notices.includes(`| ${name} |`) &&
          (text === '' || notices.includes(text.split('\n').find((line) => /copyright/i.test(line)) ?? '')),
        name,
      );
    assert.match(readFileSync(join(ROOT, '.vscodeignore'), 'utf8'), /^!THIRD-PARTY\.md$/m);
  });

  test('every library that it may bundle has its reason in DEVELOPERS.md, and none is listed that is gone', () => {
    const section = /^## Dependencies\n([\s\S]*?)^## /m.exec(readFileSync(join(ROOT, 'DEVELOPERS.md'), 'utf8'))![1]!;
    const named = section
      .split('\n')
      .filter((line) => line.startsWith('| `'))
      .flatMap((line) => [...line.split('|')[1]!.matchAll(/`([^`]+)`/g)].map(([, name]) => name!));
    assert.deepEqual(named.sort(), Object.keys(manifest.dependencies).sort());
  });

  test("is for no editor that is too old for the protocol's library, whose own check of that is left out", () => {
    const asked = /REQUIRED_VSCODE_VERSION = '\^1\.(\d+)\.0'/.exec(
      readFileSync(join(ROOT, 'node_modules/vscode-languageclient/lib/node/main.js'), 'utf8'),
    )![1]!;
    assert.ok(Number(/^\^1\.(\d+)\.0$/.exec(manifest.engines.vscode)![1]) >= Number(asked));
  });

  test('has the same bytes from the same sources', function () {
    // It bundles anew and minified, which a run beside other tests must not do.
    if (!process.env.LEANSPOT_PACKAGE) return this.skip(); // two whole packagings: the nightly run asks for them; the list of what is packed is held in every run
    const made = [1, 2].map((turn) => {
      const out = `package-${turn}.vsix`;
      const { status, stderr } = spawnSync(process.execPath, ['build.mjs', 'package', '--out', out], {
        cwd: ROOT,
        encoding: 'utf8',
        env: { ...process.env, TZ: turn === 1 ? 'UTC' : 'Asia/Tokyo' },
      });
      assert.equal(status, 0, stderr);
      const hash = createHash('sha256')
        .update(readFileSync(join(ROOT, out)))
        .digest('hex');
      rmSync(join(ROOT, out));
      return hash;
    });
    assert.equal(made[0], made[1]);
  }).timeout(600_000);
});
