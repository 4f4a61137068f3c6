// Installs what is missing, bundles, and then does what was asked: start, test, package or watch.
// Plain Node without dependencies until `install` has run, so that it works on a fresh clone.
import { Buffer } from 'node:buffer';
import { spawnSync } from 'node:child_process';
import { cpSync, existsSync, lstatSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { inflateRawSync } from 'node:zlib';

process.chdir(dirname(fileURLToPath(import.meta.url)));
const [command = 'build', ...rest] = process.argv.slice(2);

/** Runs a program with its output shown; a failure ends this process with the same code. */
function run(program, args, { mayFail = false, cwd } = {}) {
  const { status, error } = spawnSync(program, args, {
    stdio: 'inherit',
    cwd,
    shell: process.platform === 'win32' && program !== process.execPath,
  });
  if (error) {
    console.error(`Could not run ${program}: ${error.message}`);
    process.exit(1);
  }
  if (status !== 0 && !mayFail) process.exit(status ?? 1);
  return status;
}

const node = (...args) => run(process.execPath, args);
const npm = (...args) => (process.env.npm_execpath ? node(process.env.npm_execpath, ...args) : run('npm', args));

function install() {
  const stamp = 'node_modules/.package-lock.json';
  // A link leads to another checkout's packages, which npm would empty.
  if (lstatSync('node_modules', { throwIfNoEntry: false })?.isSymbolicLink() && existsSync(stamp)) return;
  if (existsSync(stamp) && statSync(stamp).mtimeMs >= statSync('package-lock.json').mtimeMs) return;
  console.error('Installing packages …');
  npm('ci', '--ignore-scripts', '--no-audit', '--no-fund', '--loglevel=error');
}

async function bundle({ watch = false, minify = false } = {}) {
  const { build, context } = await import('esbuild');
  const common = {
    bundle: true,
    platform: 'node',
    format: 'cjs',
    target: 'node20',
    sourcemap: minify ? false : 'linked',
    minify,
    legalComments: 'none',
    logLevel: 'warning',
    // jsonc-parser's UMD build cannot be bundled; its module build can.
    mainFields: ['module', 'main'],
    // Libraries that are modules ask where they lie; a CommonJS bundle tells them so. A browser's worker has no such place, nor a
    // `require`.
    banner: { js: "const bundleUrl = typeof __filename === 'string' ? require('node:url').pathToFileURL(__filename).href : '';" },
    // Each program runs on Node and in a browser's worker, and loads there what it needs: the protocol's two sides lie in both.
    alias: Object.fromEntries(
      ['vscode-languageclient', 'vscode-languageserver', 'vscode-languageserver-protocol', 'vscode-jsonrpc']
        .map((name) => [`${name}/browser`, `./node_modules/${name}/lib/browser/main.js`])
        .concat(['parse', 'satisfies'].map((name) => [`semver/functions/${name}`, './client/editorVersion.cjs'])),
    ),
    // The schema library takes a page's address apart at the start; an editor's worker has one that it cannot.
    define: {
      'import.meta.url': 'bundleUrl',
      'self.location': 'undefined',
      LEANSPOT_VERSION: JSON.stringify(JSON.parse(readFileSync('package.json', 'utf8')).version),
    },
  };
  const targets = [
    // In a worker a script's variables are everybody's: in a function of their own they hide nothing of the browser's. There nothing is
    // asked of Node's modules.
    {
      ...common,
      plugins: [withoutPages, leaner],
      entryPoints: { server: 'server/src/lsp/entry.ts' },
      outdir: 'dist',
      banner: { js: `((require) => { ${common.banner.js}` },
      footer: { js: "})(typeof require === 'function' ? require : () => ({}));" },
    },
    { ...common, plugins: [leaner], entryPoints: { client: 'client/src/client.ts' }, outdir: 'dist', external: ['vscode'] },
    // By `require`, so that the other bundle gets the editor's interface as this one does. Named so, the editor loads it at once: as a
    // module, as `package.json` has it of all others, it would be waited for while the editor loads its own extensions.
    {
      ...common,
      entryPoints: { extension: 'client/src/extension.ts' },
      outdir: 'dist',
      outExtension: { '.js': '.cjs' },
      external: ['vscode', './client.js'],
      banner: {},
      supported: { 'dynamic-import': false },
    },
    {
      bundle: true,
      platform: 'browser',
      format: 'iife',
      target: 'chrome120',
      sourcemap: false,
      minify,
      legalComments: 'none',
      logLevel: 'warning',
      // One script for all views: they share most of it.
      entryPoints: [
        { in: 'client/webview/main.ts', out: 'views' },
        { in: 'client/webview/views.css', out: 'views' },
      ],
      outdir: 'dist/webview',
    },
    // The command line is no part of the package. Its threads begin where it does.
    ...(minify
      ? []
      : [
          {
            ...common,
            entryPoints: { program: 'server/src/cli/entry.ts' },
            outdir: 'dist/cli',
            supported: { 'dynamic-import': false },
            minifyWhitespace: true,
            banner: { js: "const bundleUrl = new URL('../leanspot.js', require('node:url').pathToFileURL(__filename)).href;" },
          },
          { ...common, entryPoints: { leanspot: 'server/src/cli/start.ts' }, outdir: 'dist' },
        ]),
  ];
  rmSync('dist/cli', { recursive: true, force: true });
  await writeVehicleSchema(build, minify);
  // The bundles are CommonJS, as the editor wants them; named `.js`, as browsers do.
  writeFileSync('dist/package.json', '{ "type": "commonjs" }\n');
  if (watch) {
    for (const target of targets) await (await context(target)).watch();
    return;
  }
  await Promise.all(targets.map(build));
  if (!minify) {
    for (const script of ['dist/cli/program.js', 'dist/server.js']) escapeSigns(script);
    keepCompiled();
  }
  // Not the extension's beginning, of one kilobyte.
  if (minify) await squeeze(['dist/server.js', 'dist/client.js', 'dist/webview/views.js']);
}

/** What only a rule's page and its tests are made of. */
const OF_THE_PAGE = ['meaning', 'computed', 'causes', 'checkFirst', 'limits', 'sample'];
/** It stays out of the server, which shows the pages that lie beside it: smaller by some KB to ship, and for each thread to load. */
const withoutPages = {
  name: 'without pages',
  setup({ onLoad }) {
    onLoad({ filter: /findings[\\/]rules[\\/][^\\/]+\.ts$/ }, async ({ path }) => {
      const { default: ts } = await import('typescript');
      let contents = readFileSync(path, 'utf8');
      const { statements } = ts.createSourceFile(path, contents, ts.ScriptTarget.Latest);
      const rule = statements
        .filter(ts.isVariableStatement)
        .flatMap(({ declarationList }) => [...declarationList.declarations])
        .find(({ name }) => name.text === 'rule');
      const properties = rule.initializer.properties.flatMap((property) =>
        property.name.text === 'docs' ? [...property.initializer.properties] : [property],
      );
      for (const { initializer } of properties.filter((property) => OF_THE_PAGE.includes(property.name.text)).reverse()) {
        // Line by line, so that the rest stays where its source map has it.
        contents = `${contents.slice(0, initializer.pos)} undefined${contents.slice(initializer.pos, initializer.end).replace(/[^\n]/g, ' ')}${contents.slice(initializer.end)}`;
      }
      return { contents, loader: 'ts' };
    });
  },
};

/**
 * Features of the protocol's client that the server never offers: a tenth of the client's bundle, which the editor would load for nothing.
 */
const NOT_OFFERED = [
  'signatureHelp',
  'typeDefinition',
  'implementation',
  'colorProvider',
  'declaration',
  'callHierarchy',
  'linkedEditingRange',
  'typeHierarchy',
  'inlineValue',
  'inlineCompletion',
  'textDocumentContent',
  'rename',
];
/** The same of its server, where each is laid upon the one before. */
const NOT_SERVED =
  /vscode-languageserver[\\/]lib[\\/]common[\\/](callHierarchy|typeHierarchy|inlineValue|inlineCompletion|linkedEditingRange|moniker|notebook|textDocumentContent)\.js$/;
/** Notebooks have no sessions in them; what the library asks of this feature all the same is answered with nothing. */
const NO_NOTEBOOKS = `
  const never = () => ({ dispose() {} });
  exports.NotebookDocumentSyncFeature = class {
    static CellScheme = 'vscode-notebook-cell';
    registrationType = require('vscode-languageserver-protocol').NotebookDocumentSyncRegistrationType;
    onOpenNotificationSent = never; onChangeNotificationSent = never; onCloseNotificationSent = never; onSaveNotificationSent = never;
    getState() { return { kind: 'document', id: this.registrationType.method, registrations: false, matches: false }; }
    fillClientCapabilities() {} preInitialize() {} initialize() {} register() {} unregister() {} clear() {} handles() { return false; } getProvider() {}
  };`;

/** What libraries bring that is not wanted. */
const leaner = {
  name: 'leaner',
  setup({ onLoad }) {
    // Threads that work on sessions do without the protocol's library, which takes as long to be set up as all the rest of their program.
    onLoad({ filter: /vscode-languageserver[\\/]lib[\\/]common[\\/]api\.js$/ }, ({ path }) => ({
      contents: `if (require('node:worker_threads').isMainThread === false) return; ${readFileSync(path, 'utf8')}`,
      loader: 'js',
    }));
    // The vehicle file's schema asks for no `format` (an address, a date): patterns for each are two KB of the package.
    onLoad({ filter: /@cfworker[\\/]json-schema[\\/]dist[\\/]esm[\\/]format\.js$/ }, () => ({
      contents: 'export const format = {};',
      loader: 'js',
    }));
    onLoad({ filter: NOT_SERVED }, ({ path }) => ({
      contents: readFileSync(path, 'utf8').match(/^exports\.\w+Feature = /m)[0] + '(under) => under;',
      loader: 'js',
    }));
    onLoad({ filter: /vscode-languageclient[\\/]lib[\\/]common[\\/]notebook\.js$/ }, () => ({ contents: NO_NOTEBOOKS, loader: 'js' }));
    onLoad({ filter: /vscode-languageclient[\\/]lib[\\/]common[\\/]client\.js$/ }, ({ path }) => {
      let contents = readFileSync(path, 'utf8');
      for (const name of NOT_OFFERED) {
        const without = contents
          .replace(`const ${name}_1 = require("./${name}");\n`, '')
          .replace(new RegExp(`^ *this\\.registerFeature\\(new ${name}_1\\.\\w+\\(this\\)\\);\n`, 'm'), '');
        if (without.includes(`${name}_1`)) throw new Error(`${path}: the feature ${name} is not where it was`);
        contents = without;
      }
      return { contents, loader: 'js' };
    });
  },
};

/**
 * Writes a script's signs beyond ASCII, which the bundler leaves in regular expressions, as escapes: a text of one byte a sign is loaded in
 * a fraction of the time.
 */
function escapeSigns(script) {
  writeFileSync(
    script,
    readFileSync(script, 'utf8').replace(/[^\0-\x7f]/g, (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`),
  );
}

/**
 * Keeps what Node has compiled of the command line when it has checked the samples. Nothing else looks whether it still fits the bundle: it
 * is made with it, and goes with it.
 */
function keepCompiled() {
  const keep =
    "const { script } = require('./dist/leanspot.js'); process.on('exit', () => require('node:fs').writeFileSync('dist/cli/program.compiled', script.createCachedData()));";
  const { status } = spawnSync(process.execPath, ['-e', keep, 'leanspot', 'check', 'samples', '--fail-on', 'never'], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  if (status !== 0) console.warn('The command line could not be compiled beforehand: it starts more slowly.');
}

/**
 * The bundler minifies in a moment; a minifier alone takes longer and gives a package that is smaller by a twentieth; what is put in where
 * it is called packs less well than the call.
 */
async function squeeze(scripts) {
  const { minify } = await import('terser');
  for (const script of scripts) {
    const { code } = await minify(readFileSync(script, 'utf8'), {
      ecma: 2020,
      toplevel: true,
      compress: { passes: 2, inline: 1, unsafe_arrows: true, unsafe_methods: true, keep_fargs: false },
    });
    writeFileSync(script, code);
  }
}

/** The schema is built from the limits and quantities in the sources; the editor wants it as a file. */
async function writeVehicleSchema(build, minify) {
  const { outputFiles } = await build({
    entryPoints: ['server/src/formats/vehicle/vehicleSchema.ts'],
    bundle: true,
    format: 'esm',
    write: false,
    logLevel: 'warning',
  });
  const { guideOf, vehicleSchema } = await import(`data:text/javascript,${encodeURIComponent(outputFiles[0].text)}`);
  mkdirSync('dist', { recursive: true });
  writeFileSync('dist/vehicle.schema.json', `${JSON.stringify(guideOf(vehicleSchema), null, minify ? 0 : 2)}\n`);
}

/**
 * Deflates the entries of a package anew, as small as can be: a twentieth less than the packer's own. Offsets and fields by PKWARE's
 * APPNOTE 6.3.10, 4.3.7 (local header), 4.3.12 (central directory) and 4.3.16 (its end); the packer writes neither encryption nor ZIP64.
 */
async function shrink(file) {
  const { deflateAsync } = await import('@gfx/zopfli');
  const zip = readFileSync(file),
    parts = [],
    directory = [];
  const end = zip.lastIndexOf('PK\x05\x06', undefined, 'latin1');
  let written = 0;
  for (let at = zip.readUInt32LE(end + 16); at < end; at += directory.at(-1).length) {
    const entry = Buffer.from(
      zip.subarray(at, at + 46 + zip.readUInt16LE(at + 28) + zip.readUInt16LE(at + 30) + zip.readUInt16LE(at + 32)),
    );
    const from = entry.readUInt32LE(42),
      name = zip.readUInt16LE(from + 26),
      begin = from + 30 + name + zip.readUInt16LE(from + 28);
    const packed = zip.subarray(begin, begin + entry.readUInt32LE(20));
    const smaller =
      entry.readUInt16LE(10) === 8
        ? Buffer.from(await deflateAsync(inflateRawSync(packed), { numiterations: 15, blocksplittingmax: 40 }))
        : packed;
    const data = smaller.length < packed.length ? smaller : packed;
    // Sizes stand in the header itself, not behind the data.
    entry.writeUInt16LE(entry.readUInt16LE(8) & ~8, 8);
    entry.writeUInt32LE(data.length, 20);
    entry.writeUInt32LE(written, 42);
    const local = Buffer.alloc(30);
    local.writeUInt32LE(0x04034b50);
    entry.copy(local, 4, 6, 28);
    local.writeUInt16LE(name, 26);
    directory.push(entry);
    parts.push(local, zip.subarray(from + 30, from + 30 + name), data);
    written += 30 + name + data.length;
  }
  const tail = Buffer.from(zip.subarray(end));
  tail.writeUInt32LE(written, 16);
  writeFileSync(file, Buffer.concat([...parts, ...directory, tail]));
}

/** What the README says to who has the sources: how to start, to install, and of the command line, which is no part of the package. */
const CHECKOUT_ONLY = /^```sh\nnpm start[^]*?and nothing else\.\n\n|^## Install\n[^]*?(?=^## )|^### On the command line\n[^]*?(?=^## )/gm;

/** Packs what `.vscodeignore` lets through; pictures and links to what stays behind would be broken there and go. */
async function pack(options) {
  const vsce = join(process.cwd(), 'node_modules/@vscode/vsce/vsce'),
    staged = join(process.cwd(), '.build/package');
  const files = spawnSync(process.execPath, [vsce, 'ls', '--no-dependencies'], { encoding: 'utf8' })
    .stdout.split('\n')
    .filter((line) => line !== '');
  rmSync(staged, { recursive: true, force: true });
  for (const file of files) cpSync(file, join(staged, file));
  for (const page of files.filter((file) => file.endsWith('.md'))) {
    const stays = (file) => !existsSync(join(staged, dirname(page), file.replace(/#.*/, '')));
    writeFileSync(
      join(staged, page),
      readFileSync(page, 'utf8')
        .replace(CHECKOUT_ONLY, '')
        .replace(/^!\[[^\]]*\]\(([^)]*)\)\n\n/gm, (picture, file) => (stays(file) ? '' : picture))
        .replace(/(?<!!)\[([^\]]*)\]\((?!https?:|#)([^)]*)\)/g, (link, words, file) => (stays(file) ? words : link)),
    );
  }
  const out = options.indexOf('--out');
  const file = resolve(out < 0 ? 'leanspot.vsix' : options[out + 1]);
  // The same sources make the same bytes: entries bear one time, in one zone.
  Object.assign(process.env, { SOURCE_DATE_EPOCH: process.env.SOURCE_DATE_EPOCH ?? String(Date.UTC(2026, 0, 1) / 1000), TZ: 'UTC' });
  run(process.execPath, [vsce, 'package', '--no-dependencies', '--no-rewrite-relative-links', ...options, '--out', file], { cwd: staged });
  await shrink(file);
  console.error(`${file}: ${(statSync(file).size / 1024).toFixed(2)} KB`);
}

install();
switch (command) {
  case 'build':
    await bundle();
    break;
  case '--watch':
    await bundle({ watch: true });
    console.error('Watching …');
    break;
  case 'start':
    await bundle();
    process.exitCode = run(process.execPath, ['dist/leanspot.js', 'check', '--fail-on', 'never', ...(rest.length ? rest : ['samples'])], {
      mayFail: true,
    });
    break;
  case 'test':
    await bundle();
    node('node_modules/typescript/bin/tsc', '-b');
    node('node_modules/eslint/bin/eslint.js', '.');
    node('node_modules/prettier/bin/prettier.cjs', '--check', '--log-level', 'warn', '.');
    node('node_modules/mocha/bin/mocha.js', 'test/!(editor)/**/*.test.ts', 'test/*.test.ts', ...rest);
    node('--import', 'tsx', 'test/editor/run.ts');
    break;
  case 'package':
    rmSync('dist', { recursive: true, force: true });
    await bundle({ minify: true });
    node('--import', 'tsx', 'test/support/makeLicences.ts');
    await pack(rest);
    // The command line, which is no part of it, and the bundles that can be debugged.
    await bundle();
    break;
  default:
    console.error(`Unknown command ${command}. Known: build, --watch, start, test, package.`);
    process.exit(2);
}
