// Other editors, without any extension of ours: the clients of Neovim and of Emacs start the server as docs/editors.md says, and show
// findings and hovers.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { program } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

const PAGE = readFileSync(fileURLToPath(new URL('../../server/docs/editors.md', import.meta.url)), 'utf8');
const runs = (program: string, ...args: string[]): boolean => spawnSync(program, args).status === 0;

/** The set-up that the page gives in a language, with the program under test in it. */
async function setUp(language: string, named: string, as: (words: readonly string[]) => string): Promise<string> {
  const text = new RegExp(`\`\`\`${language}\\n([\\s\\S]*?)\`\`\``).exec(PAGE)![1]!;
  assert.ok(text.includes(named), 'the page names the program');
  return text.replace(named, as([process.execPath, await program()]));
}

interface Answer {
  readonly mode: string;
  readonly findings: readonly { readonly code: string; readonly message: string }[];
  readonly hover: string;
}

function assertServed({ mode, findings, hover }: Answer): void {
  assert.match(mode, /^session-log/);
  const lean = findings.find(({ code, message }) => `${code} ${message}`.includes('lean-under-load'));
  assert.ok(lean, JSON.stringify(findings));
  // The car's own limit: its vehicle.json is found above the session.
  assert.match(lean.message, /limit λ 0\.04, set in vehicle\.json/);
  assert.match(hover, /rpm/);
}

const CAR = SAMPLE_CAR.replace('"name": "Test coupe",', '"name": "Test coupe", "limits": { "leanUnderLoad": 0.04 },');

/** Waits for what the server says, by Neovim's own loop, and writes it as JSON. */
const ASK_NEOVIM = `
vim.cmd('edit sessions/run.session.csv')
local buffer = vim.api.nvim_get_current_buf()
local function finish(answer)
  local file = io.open('answer.json', 'w')
  file:write(vim.json.encode(answer))
  file:close()
end
vim.wait(30000, function() return #vim.diagnostic.get(buffer) > 0 end, 50)
local findings = {}
for _, each in ipairs(vim.diagnostic.get(buffer)) do table.insert(findings, { code = each.code, line = each.lnum, message = each.message }) end
local params = { textDocument = { uri = vim.uri_from_bufnr(buffer) }, position = { line = 1, character = 6 } }
local hover
for _, answer in pairs(vim.lsp.buf_request_sync(buffer, 'textDocument/hover', params, 20000) or {}) do hover = answer.result and answer.result.contents.value end
finish({ mode = vim.bo.filetype, findings = findings, hover = hover })
vim.cmd('qall!')
`;

/** The same in Emacs, which in a batch has no idle moments in which Eglot would start by itself. */
const ASK_EMACS = `
(require 'eglot)
(require 'json)
(load-file "init.el")
(setq eglot-sync-connect 30)
(find-file "sessions/run.session.csv")
(apply #'eglot--connect (eglot--guess-contact))
(with-timeout (30)
  (while (null (flymake-diagnostics)) (flymake-start) (accept-process-output nil 0.1)))
(goto-char (point-min)) (forward-line 1) (forward-char 6)
(let ((hover (jsonrpc-request (eglot--current-server-or-lose) :textDocument/hover (eglot--TextDocumentPositionParams)))
      (findings (mapcar (lambda (each) (list :code "" :message (flymake-diagnostic-text each))) (flymake-diagnostics))))
  (with-temp-file (expand-file-name "../answer.json" default-directory)
    (insert (json-encode (list :mode (symbol-name (buffer-local-value 'major-mode (get-buffer "run.session.csv"))) :findings (vconcat findings) :hover (plist-get (plist-get hover :contents) :value))))))
;; Taken leave of in order: a question of the server's must not meet a pipe that Emacs closed on its way out.
(eglot-shutdown (eglot--current-server-or-lose))
`;

/** Debian keeps add-on packages where its own start-up file finds them. */
const EMACS = ['--batch', '-l', 'package', '--eval', '(package-initialize)'];

suite('trust: other editors', () => {
  const inCar = (use: (cwd: string, env: NodeJS.ProcessEnv) => Promise<void>): Promise<void> =>
    inFolder(CAR, (cwd) =>
      use(cwd, { ...process.env, HOME: cwd, XDG_STATE_HOME: cwd, XDG_CACHE_HOME: cwd, XDG_DATA_HOME: cwd, XDG_CONFIG_HOME: cwd }),
    );
  const answerIn = (cwd: string): Answer => JSON.parse(readFileSync(join(cwd, 'answer.json'), 'utf8')) as Answer;

  test('Neovim shows findings and hovers, set up as the page says', async function () {
    // Debian's package neovim; where it is not installed the test is skipped, and counted.
    if (!runs('nvim', '--version')) return this.skip(); // no Neovim here (.ci/run installs it): server.test.ts asks the same of a client of our own
    await inCar(async (cwd, env) => {
      writeFileSync(
        join(cwd, 'init.lua'),
        await setUp('lua', "'leanspot', 'serve'", (words) => [...words, 'serve'].map((word) => `'${word}'`).join(', ')),
      );
      writeFileSync(join(cwd, 'ask.lua'), ASK_NEOVIM);
      const { status, stderr } = spawnSync('nvim', ['--headless', '--clean', '-u', 'init.lua', '-S', 'ask.lua'], {
        cwd,
        encoding: 'utf8',
        timeout: 90_000,
        env,
      });
      assert.equal(status, 0, stderr);
      assertServed(answerIn(cwd));
    });
  }).timeout(180_000);

  test('Emacs shows findings and hovers, set up as the page says', async function () {
    if (!runs('emacs', ...EMACS, '--eval', "(require 'eglot)")) return this.skip(); // no Emacs with Eglot here: Neovim and a client of our own ask the same
    await inCar(async (cwd, env) => {
      writeFileSync(
        join(cwd, 'init.el'),
        await setUp('elisp', '"leanspot" "serve"', (words) => [...words, 'serve'].map((word) => `"${word}"`).join(' ')),
      );
      writeFileSync(join(cwd, 'ask.el'), ASK_EMACS);
      const { status, stderr } = spawnSync('emacs', [...EMACS, '-l', 'ask.el'], { cwd, encoding: 'utf8', timeout: 90_000, env });
      assert.equal(status, 0, stderr);
      assertServed(answerIn(cwd));
    });
  }).timeout(180_000);
});
