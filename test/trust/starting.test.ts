// The extension begins with next to nothing: the rest is loaded behind it, waited for where it is needed, ended in order, and a failure is
// told once.

import assert from 'node:assert/strict';
import { clientModule } from './clientModule.js';

interface Extension {
  activate(context: unknown): Promise<unknown>;
  deactivate(): Promise<void>;
}
interface Seen {
  readonly told: string[];
  readonly steps: string[];
}

const EDITOR =
  "export const l10n = { t: (text, part) => text.replace('{0}', part) }; export const window = { showErrorMessage: async (text) => { globalThis.seen.told.push(text); } };";
const CLIENT =
  "globalThis.seen.steps.push('loaded'); export const activate = async (context) => { await null; globalThis.seen.steps.push('started'); return { context }; }; export const deactivate = async () => { globalThis.seen.steps.push('ended'); };";

async function extension(client: string): Promise<Extension & Seen> {
  const seen: Seen = { told: [], steps: [] };
  Object.assign(globalThis, { seen });
  return { ...(await clientModule<Extension>('extension.ts', EDITOR, client)), ...seen };
}

suite('trust: the extension begins', () => {
  test('nothing of it is loaded before its first step is over', async () => {
    const { activate, deactivate, steps, told } = await extension(CLIENT);
    const started = activate('the context');
    await Promise.resolve();
    assert.deepEqual(steps, []);
    assert.deepEqual(await started, { context: 'the context' });
    await deactivate();
    assert.deepEqual([steps, told], [['loaded', 'started', 'ended'], []]);
  });

  test('ended while it is being loaded, it is loaded and then ended; never begun, nothing is', async () => {
    const { activate, deactivate, steps } = await extension(CLIENT);
    await deactivate();
    assert.deepEqual(steps, []);
    void activate('the context');
    await deactivate();
    assert.deepEqual(steps, ['loaded', 'started', 'ended']);
  });

  test('what cannot be loaded or does not start is told in one line', async () => {
    for (const [client, told] of [
      ["throw new Error('Cannot find module\\nRequire stack:');", 'Leanspot could not be loaded: Cannot find module'],
      ["export const activate = async () => { throw new Error('no room'); };", 'Leanspot could not be loaded: no room'],
    ] as const) {
      const made = await extension(client);
      await assert.rejects(made.activate('the context'));
      await made.deactivate();
      assert.deepEqual(made.told, [told]);
    }
  });
});
