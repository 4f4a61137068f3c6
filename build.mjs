// Installs what is missing, bundles, and then does what was asked: start, test, package or watch.
// Plain Node without dependencies until `install` has run, so that it works on a fresh clone.
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { fileURLToPath } from 'node:url';

process.chdir(dirname(fileURLToPath(import.meta.url)));
const [command = 'build', ...rest] = process.argv.slice(2);

/** Runs a program with its output shown; a failure ends this process with the same code. */
function run(program, args, { mayFail = false } = {}) {
  const { status, error } = spawnSync(program, args, { stdio: 'inherit', shell: process.platform === 'win32' && program !== process.execPath });
  if (error) { console.error(`Could not run ${program}: ${error.message}`); process.exit(1); }
  if (status !== 0 && !mayFail) process.exit(status ?? 1);
  return status;
}

const node = (...args) => run(process.execPath, args);
const npm = (...args) => process.env.npm_execpath ? node(process.env.npm_execpath, ...args) : run('npm', args);

function install() {
  const stamp = 'node_modules/.package-lock.json';
  if (existsSync(stamp) && statSync(stamp).mtimeMs >= statSync('package-lock.json').mtimeMs) return;
  console.error('Installing packages …');
  npm('ci', '--ignore-scripts', '--no-audit', '--no-fund', '--loglevel=error');
}

async function bundle({ watch = false, minify = false } = {}) {
  const { build, context } = await import('esbuild');
  const common = {
    bundle: true, platform: 'node', format: 'cjs', target: 'node20', sourcemap: minify ? false : 'linked', minify,
    legalComments: 'none', logLevel: 'warning',
    // jsonc-parser's UMD build cannot be bundled; its module build can.
    mainFields: ['module', 'main'],
    // Libraries that are modules ask where they lie; a CommonJS bundle tells them so.
    banner: { js: "const bundleUrl = require('node:url').pathToFileURL(__filename).href;" },
    define: { 'import.meta.url': 'bundleUrl', LEANSPOT_VERSION: JSON.stringify(JSON.parse(readFileSync('package.json', 'utf8')).version) },
  };
  const targets = [
    // Two programs, so that a command line that only checks does not load the protocol's library.
    { ...common, entryPoints: { leanspot: 'server/src/cli/main.ts' }, outdir: 'dist', outExtension: { '.js': '.cjs' }, plugins: [beside('../lsp/main.js', './server.cjs')] },
    { ...common, entryPoints: { server: 'server/src/lsp/main.ts' }, outdir: 'dist', outExtension: { '.js': '.cjs' } },
    { ...common, entryPoints: { thread: 'server/src/disk/sessionThread.ts' }, outdir: 'dist', outExtension: { '.js': '.cjs' } },
    // What the extension starts: the server without the command line, which the package then does not carry.
    { ...common, entryPoints: { serve: 'server/src/lsp/standalone.ts' }, outdir: 'dist', outExtension: { '.js': '.cjs' }, plugins: [beside('./main.js', './server.cjs')] },
    { ...common, entryPoints: { extension: 'client/src/extension.ts' }, outdir: 'dist', outExtension: { '.js': '.cjs' }, external: ['vscode'] },
    {
      bundle: true, platform: 'browser', format: 'iife', target: 'chrome120', sourcemap: false, minify, legalComments: 'none', logLevel: 'warning',
      // One script for all views: they share most of it.
      entryPoints: [{ in: 'client/webview/main.ts', out: 'views' }, { in: 'client/webview/views.css', out: 'views' }], outdir: 'dist/webview',
    },
  ];
  await writeVehicleSchema(build);
  if (watch) for (const target of targets) await (await context(target)).watch();
  else await Promise.all(targets.map(build));
}

/** An import that is not bundled but required from a bundle beside this one, when it is asked for. */
const beside = (path, bundled) => ({
  name: 'beside',
  setup: ({ onResolve }) => onResolve({ filter: /\/main\.js$/ }, (asked) => (asked.path === path ? { path: bundled, external: true } : undefined)),
});

/** The schema is built from the limits and quantities in the sources; the editor wants it as a file. */
async function writeVehicleSchema(build) {
  const { outputFiles } = await build({ entryPoints: ['server/src/formats/vehicleSchema.ts'], bundle: true, format: 'esm', write: false, logLevel: 'warning' });
  const { guideOf, vehicleSchema } = await import(`data:text/javascript,${encodeURIComponent(outputFiles[0].text)}`);
  mkdirSync('dist', { recursive: true });
  writeFileSync('dist/vehicle.schema.json', `${JSON.stringify(guideOf(vehicleSchema), null, 2)}\n`);
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
    process.exitCode = run(process.execPath, ['dist/leanspot.cjs', 'check', '--fail-on', 'never', ...(rest.length ? rest : ['samples'])], { mayFail: true });
    break;
  case 'test':
    await bundle();
    node('node_modules/typescript/bin/tsc', '-b');
    node('node_modules/eslint/bin/eslint.js', '.');
    node('node_modules/mocha/bin/mocha.js', 'test/!(editor)/**/*.test.ts', 'test/*.test.ts', ...rest);
    node('--import', 'tsx', 'test/editor/run.ts');
    break;
  case 'package':
    rmSync('dist', { recursive: true, force: true });
    await bundle({ minify: true });
    node('--import', 'tsx', 'test/support/makeLicences.ts');
    // The same sources make the same bytes: entries bear one time, in one zone.
    Object.assign(process.env, { SOURCE_DATE_EPOCH: process.env.SOURCE_DATE_EPOCH ?? String(Date.UTC(2026, 0, 1) / 1000), TZ: 'UTC' });
    node('node_modules/@vscode/vsce/vsce', 'package', '--no-dependencies', '--no-rewrite-relative-links', '--out', 'leanspot.vsix', ...rest);
    break;
  default:
    console.error(`Unknown command ${command}. Known: build, --watch, start, test, package.`);
    process.exit(2);
}
