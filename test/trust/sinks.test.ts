// Whatever a file says stays text, wherever it is shown or written: a test for each place that content of files reaches.

import assert from 'node:assert/strict';
import { readdirSync, readFileSync, symlinkSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import MarkdownIt from 'markdown-it';
import { diskWorkspace, uriOf } from '../../server/src/disk/diskWorkspace.js';
import { csvField } from '../../server/src/formats/csv/writeField.js';
import { asMarkdown } from '../../server/src/service/editor/card.js';
import { createLanguageService } from '../../server/src/service/languageService.js';
import { isFromTraceView } from '../../server/src/protocol/traceMessages.js';
import { leanspot } from '../cli/run.js';
import { seeded } from '../support/faults/random.js';
import { inFolder } from '../support/folder.js';
import { memoryWorkspace } from '../support/memoryWorkspace.js';
import { LEAN_CAR, sampleDrive, SAMPLE_TABLE } from '../support/sampleDrive.js';
import { HOSTILE, STEERING } from './hostile.js';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));

/** Every source file below a folder, its path from the root and its text. */
const sources = (folder: string): { path: string; text: string }[] =>
  readdirSync(join(ROOT, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.(ts|mjs)$/.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .map((path) => ({ path: relative(ROOT, path), text: readFileSync(path, 'utf8') }));
const product = [...sources('server/src'), ...sources('client')];

/** A log whose first header after the time is hostile, quoted as CSV wants it. */
const logNamed = (name: string): string => sampleDrive().replace('Throttle (%)', `"${name.replaceAll('"', '""')}"`);

suite('trust: sinks', () => {
  test("Markdown of hovers: no link, image or HTML comes of a file's text", async () => {
    // As editors show it: HTML understood, bare addresses made links.
    const markdown = new MarkdownIt({ html: true, linkify: true });
    for (const name of HOSTILE) {
      const workspace = memoryWorkspace(`=== sessions/run.session.csv\n${logNamed(name)}`);
      const service = createLanguageService(workspace);
      const uri = workspace.uri('sessions/run.session.csv');
      const at = logNamed(name).split('\n')[0]!.indexOf(name.replaceAll('"', '""'));
      const card = await service.hover(uri, { line: 0, character: at + 1 });
      assert.ok(card, `no hover on ${name}`);
      for (const text of [asMarkdown(card), asMarkdown({ range: card.range, title: name, rows: [[name, name]], notes: [name] })]) {
        const kinds = markdown.parse(text, {}).flatMap((token) => [token.type, ...(token.children ?? []).map(({ type }) => type)]);
        assert.deepEqual(
          kinds.filter((kind) => /link|image|html|code|heading|list|fence/.test(kind)),
          [],
          text,
        );
      }
    }
  });

  test('exported CSV: no field is a formula', () => {
    for (const text of [...HOSTILE, '\t=1', '\r=1', ' =1', '=1', '+x', '-x', '@x']) {
      const written = csvField(text);
      const read = written.startsWith('"') ? written.slice(1, -1).replaceAll('""', '"') : written;
      assert.ok(!/^\s*[=+\-@]/.test(read), written);
      assert.ok(read === text || read === `'${text}`);
    }
    assert.equal(csvField('-12.5'), '-12.5');
    assert.equal(csvField('Lambda (λ)'), 'Lambda (λ)');
  });

  test('the CSV that the trace copies: a header out of a log is no formula', async () => {
    const workspace = memoryWorkspace(`=== sessions/run.session.csv\n${logNamed('=cmd|calc!A0')}`);
    const { trace } = createLanguageService(workspace);
    const uri = workspace.uri('sessions/run.session.csv');
    const { channels } = (await trace.summary(uri))!;
    const csv = await trace.csv({ uri, channels: channels.map(({ id }) => id), fromS: 0, toS: 1 });
    assert.match(csv!.text.split('\n')[0]!, /'=cmd/);
  });

  test('the command line: no output steers the terminal, as text, JSON or SARIF', async () => {
    const name = `evil${STEERING.replaceAll('\b', '').replaceAll('/', '')}`;
    await inFolder(LEAN_CAR, async (cwd) => {
      writeFileSync(join(cwd, `sessions/${name}.session.csv`), `# name: ${STEERING}\n${logNamed(STEERING)}`);
      writeFileSync(join(cwd, `tables/${name}.table.csv`), SAMPLE_TABLE.replace('volumetric efficiency', STEERING));
      writeFileSync(join(cwd, `${name}.txt`), 'nothing');
      const runs = [
        ['check', '.'],
        ['check', '.', '--format', 'json'],
        ['check', '.', '--format', 'sarif'],
        ['check', `${name}.txt`],
        ['check', STEERING],
        ['weigh', 'tables/ve.table.csv'],
        ['weigh', 'tables/ve.table.csv', '--format', 'json'],
        ['weigh', 'tables/ve.table.csv', '--format', 'csv'],
        ['weigh', `tables/${name}.table.csv`],
        ['compare', 'tables/ve.table.csv', '--before', 'sessions/c*.csv', '--after', 'sessions/e*.csv'],
        ['correct', 'tables/ve.table.csv', '--output', `${name}-next.csv`],
        ['convert', STEERING, 'AFR'],
        ['convert', '14.7', STEERING],
        [STEERING],
      ];
      for (const args of runs) {
        const { stdout, stderr } = await leanspot(args, { cwd });
        assert.ok(stdout.length + stderr.length > 0);
        // eslint-disable-next-line no-control-regex
        const signs = /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/;
        assert.doesNotMatch(stdout + stderr, signs, `leanspot ${args[0]} ${args.slice(2).join(' ')}`);
        if (args.includes('json') || args.includes('sarif')) JSON.parse(stdout);
      }
    });
  }).timeout(240_000);

  test('SARIF: a path is an address of RFC 3986, a message is text', () =>
    inFolder(`=== x.txt\n`, async (cwd) => {
      const names = HOSTILE.filter((name) => !name.includes('/')).map((name) => `${name}.session.csv`);
      for (const name of names) writeFileSync(join(cwd, name), logNamed(name));
      const { stdout } = await leanspot(['check', '.', '--format', 'sarif'], { cwd });
      const {
        runs: [run],
      } = JSON.parse(stdout) as {
        runs: { results: { message: object; locations: { physicalLocation: { artifactLocation: { uri: string } } }[] }[] }[];
      };
      const seen = new Set(
        run!.results.map(({ message, locations: [place] }) => {
          assert.deepEqual(Object.keys(message), ['text']);
          const { uri } = place!.physicalLocation.artifactLocation;
          assert.match(uri, /^[\w\-.~!*'()%/]+$/);
          return decodeURIComponent(uri);
        }),
      );
      assert.deepEqual([...seen].sort(), [...names].sort());
    }));

  test('paths: what a vehicle file names, or a link points to, outside of its folder is not read and not written', () =>
    inFolder(
      `=== outside/secret.session.csv\n${sampleDrive()}=== outside/ve.table.csv\n${SAMPLE_TABLE}${LEAN_CAR.replace(/^=== /gm, '=== car/')}`,
      async (folder) => {
        const car = join(folder, 'car');
        symlinkSync(join(folder, 'outside/secret.session.csv'), join(car, 'sessions/link.session.csv'));
        symlinkSync(join(folder, 'outside'), join(car, 'linked'));
        symlinkSync(join(folder, 'outside'), join(car, 'tables/history'));
        const service = createLanguageService(diskWorkspace([uriOf(car)]));
        const seen = (await service.filesBelow(uriOf(car))).map(({ uri }) => uri);
        assert.ok(seen.length >= 3 && seen.every((uri) => !/link|secret/.test(uri)), seen.join('\n'));
        for (const path of [
          '../outside/ve.table.csv',
          'linked/ve.table.csv',
          'tables/../../outside/ve.table.csv',
          join(folder, 'outside/ve.table.csv'),
          'file:///etc/passwd',
          '//host/share/ve.table.csv',
          'C:\\\\x.table.csv',
        ]) {
          writeFileSync(
            join(car, 'vehicle.json'),
            `{ "tables": { "fuel": "${path}" }, "sessions": ["../outside/*.csv", "linked/*.csv", "{..,x}/outside/*.csv"] }`,
          );
          const below = await createLanguageService(diskWorkspace([uriOf(car)])).filesBelow(uriOf(car));
          assert.ok(
            below.every(({ uri }) => uri.startsWith(`${uriOf(car)}/`) && !/link|secret/.test(uri)),
            path,
          );
        }
        // The kept table would go through the link.
        writeFileSync(join(car, 'vehicle.json'), '{ "tables": { "fuel": "tables/ve.table.csv" } }\n');
        const { status, stderr } = await leanspot(['correct', 'tables/ve.table.csv', '--write'], { cwd: car });
        assert.equal(status, 2);
        assert.match(stderr, /tables\/history is a link that leads out of the vehicle's folder/);
        assert.deepEqual(readdirSync(join(folder, 'outside')).sort(), ['secret.session.csv', 've.table.csv']);
        assert.equal(readFileSync(join(car, 'tables/ve.table.csv'), 'utf8'), SAMPLE_TABLE);
      },
    ));

  test("no shell, no program, no code out of text; no HTML put together but the pages' own", () => {
    for (const { path, text } of product) {
      assert.doesNotMatch(text, /child_process|\beval\(|new Function\(|\.exec(?:File|Sync)?\(`/, path);
      // The command line's start runs the bundle that lies beside it.
      if (!path.endsWith('server/src/cli/start.ts')) assert.doesNotMatch(text, /node:vm/, path);
      assert.doesNotMatch(text, /\.(?:innerHTML|outerHTML)\s*=|insertAdjacentHTML|document\.write/, path);
      // A regular expression is never made of text that comes from a file.
      assert.doesNotMatch(text, /new RegExp\(/, path);
      if (/webview\.html\s*=/.test(text)) assert.match(text, /webview\.html = pageOf\(/, path);
    }
    // The views: words go in as text or as attributes that say something, never as one that loads, runs or leads away.
    for (const { path, text } of sources('client/webview'))
      assert.doesNotMatch(
        text,
        /\b(?:href|src|srcdoc|srcset|formaction|style)['"]?\s*:\s|\bon[a-z]+['"]?:\s*['"`]|createContextualFragment|DOMParser/,
        path,
      );
    for (const { path, text } of sources('client/src')) {
      assert.doesNotMatch(text, /isTrusted\s*[:=]\s*true|supportHtml\s*[:=]\s*true|supportThemeIcons|enableCommandUris\s*:\s*true/, path);
    }
  });

  test("a view's message is checked: nothing but its own kinds passes, and nothing throws", () => {
    const random = seeded(5);
    const any = (depth = 0): unknown =>
      random.pick(
        [
          () => null,
          () => undefined,
          () => random.normal() * 1e9,
          () => NaN,
          () => random.pick(HOSTILE),
          () => [any(depth + 1)],
          () => ({
            type: random.pick(['ready', 'window', 'cursor', 'savePicture', 'keep', '__proto__', 'x']),
            ask: any(depth + 1),
            channels: any(depth + 1),
            line: any(depth + 1),
            png: any(depth + 1),
            kept: any(depth + 1),
          }),
        ].slice(0, depth > 4 ? 5 : undefined),
      )();
    let passed = 0;
    for (let draw = 0; draw < 20_000; draw++) {
      const message = any() as { type?: unknown } | null;
      if (isFromTraceView(message)) {
        passed++;
        assert.equal(message.type, 'ready', JSON.stringify(message));
      }
    }
    assert.ok(passed > 0);
  });

  test('a folder that is not trusted, and one that is no real folder, are declared with what is limited', () => {
    const manifest = JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')) as {
      capabilities: Record<string, { supported: unknown; description: string }>;
    };
    const words = JSON.parse(readFileSync(join(ROOT, 'package.nls.json'), 'utf8')) as Record<string, string>;
    for (const kind of ['untrustedWorkspaces', 'virtualWorkspaces']) {
      assert.equal(manifest.capabilities[kind]!.supported, 'limited');
      assert.ok(words[manifest.capabilities[kind]!.description.replaceAll('%', '')]!.length > 20);
    }
  });
});
