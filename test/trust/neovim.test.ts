// Another editor, without any extension of ours: Neovim's own client starts the server as docs/editors.md says, and shows findings and hovers.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { program } from '../cli/run.js';
import { inFolder } from '../support/folder.js';
import { SAMPLE_CAR } from '../support/sampleDrive.js';

const PAGE = readFileSync(fileURLToPath(new URL('../../server/docs/editors.md', import.meta.url)), 'utf8');
const isInstalled = spawnSync('nvim', ['--version']).status === 0;

/** Waits for what the server says, by Neovim's own loop, and writes it as JSON. */
const ASK = `
vim.cmd('edit sessions/run.session.csv')
local buffer = vim.api.nvim_get_current_buf()
local function finish(answer)
  local file = io.open('answer.json', 'w')
  file:write(vim.json.encode(answer))
  file:close()
end
local found = vim.wait(30000, function() return #vim.diagnostic.get(buffer) > 0 end, 50)
local findings = {}
for _, each in ipairs(vim.diagnostic.get(buffer)) do table.insert(findings, { code = each.code, line = each.lnum, message = each.message }) end
local params = { textDocument = { uri = vim.uri_from_bufnr(buffer) }, position = { line = 1, character = 6 } }
local hover
for _, answer in pairs(vim.lsp.buf_request_sync(buffer, 'textDocument/hover', params, 20000) or {}) do hover = answer.result and answer.result.contents.value end
finish({ found = found, filetype = vim.bo.filetype, findings = findings, hover = hover })
vim.cmd('qall!')
`;

suite('trust: other editors', () => {
  test('Neovim shows findings and hovers, set up as the page says', async function () {
    // Debian's package neovim; where it is not installed the test is skipped, and counted.
    if (!isInstalled) return this.skip(); // no Neovim here (.ci/run installs it): server.test.ts asks the same of a client of our own
    const setUp = /```lua\n([\s\S]*?)```/.exec(PAGE)![1]!;
    const server = await program();
    await inFolder(SAMPLE_CAR, (cwd) => {
      assert.ok(setUp.includes("{ 'leanspot', 'serve'"), 'the page names the program');
      writeFileSync(join(cwd, 'init.lua'), setUp.replace("{ 'leanspot'", `{ '${process.execPath}', '${server}'`));
      writeFileSync(join(cwd, 'ask.lua'), ASK);
      const { status, stderr } = spawnSync('nvim', ['--headless', '--clean', '-u', 'init.lua', '-S', 'ask.lua'], { cwd, encoding: 'utf8', timeout: 90_000, env: { ...process.env, HOME: cwd, XDG_STATE_HOME: cwd, XDG_CACHE_HOME: cwd, XDG_DATA_HOME: cwd, XDG_CONFIG_HOME: cwd } });
      assert.equal(status, 0, stderr);
      const answer = JSON.parse(readFileSync(join(cwd, 'answer.json'), 'utf8')) as { found: boolean; filetype: string; findings: { code: string; message: string }[]; hover: string };
      assert.equal(answer.filetype, 'session-log');
      assert.ok(answer.findings.some(({ code }) => code === 'lean-under-load'), JSON.stringify(answer.findings));
      assert.match(answer.hover, /rpm/);
    });
  }).timeout(180_000);
});
