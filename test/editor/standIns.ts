// Plain JavaScript in place of the editor's compiled modules, so that installing it needs no compiler.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';

/** Only guards passwords, which this editor is started without. */
const passwordHashing = `
exports.hash = exports.verify = () => { throw new Error('passwords are not used here'); };
`;

/** Ends an extension host whose server died; here the whole process group is ended. */
const watchdog = `
exports.start = () => {};
exports.exit = (code) => process.exit(code || 0);
`;

/** Writes the files behind the output channels: without it they stay empty. */
const logFiles = `
const { appendFileSync, mkdirSync } = require('node:fs');
const { dirname } = require('node:path');
const names = ['trace', 'debug', 'info', 'warn', 'error', 'critical'];
class Logger {
  constructor(type, name, file) { this.file = file; this.level = 2; this.plain = false; mkdirSync(dirname(file), { recursive: true }); appendFileSync(file, ''); }
  write(level, message) {
    if (level < this.level) return;
    const text = this.plain ? message : new Date().toISOString().replace('T', ' ').replace('Z', '') + ' [' + names[level] + '] ' + message + '\\n';
    try { appendFileSync(this.file, text); } catch { /* the folder is being removed */ }
  }
  getLevel() { return this.level; }
  setLevel(level) { this.level = level; }
  setPattern() {}
  clearFormatters() { this.plain = true; }
  flush() {}
  drop() {}
}
names.forEach((name, level) => { Logger.prototype[name] = function (message) { this.write(level, message); }; });
exports.version = 0;
exports.setLevel = () => {};
exports.setFlushOn = () => {};
exports.Logger = Logger;
exports.createRotatingLogger = async (name, file) => new Logger('rotating', name, file);
exports.createAsyncRotatingLogger = async (name, file) => new Logger('rotating_async', name, file);
`;

/** Replaces the modules in an editor installed without install scripts. `editor` is its `lib/vscode`. */
export function replaceCompiledModules(folder: string, editor: string): void {
  writeFileSync(join(folder, 'node_modules/argon2/argon2.js'), passwordHashing);
  writeFileSync(join(editor, 'node_modules/native-watchdog/index.js'), watchdog);
  writeFileSync(join(editor, 'node_modules/@vscode/spdlog/index.js'), logFiles);
}
