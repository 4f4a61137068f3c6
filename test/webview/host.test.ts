// A view's line to the extension: of what is asked for here and there, what the user asked for last is shown.

import assert from 'node:assert/strict';
import { Host } from '../../client/webview/host.js';

type Out = { readonly type: 'plain' } | { readonly type: 'asks'; readonly ask: number };

suite('view: host', () => {
  test('what was asked for elsewhere before the user acted here is not shown, whichever message comes first; what was asked for after it is', () => {
    const page = globalThis as { window?: unknown; acquireVsCodeApi?: unknown };
    let heard = 0;
    page.window = { addEventListener: () => undefined };
    page.acquireVsCodeApi = () => ({
      postMessage: () => {
        heard++;
      },
      getState: () => undefined,
      setState: () => undefined,
    });
    try {
      const host = new Host<Out, { readonly type: 'said'; readonly ask: number }>(
        (value): value is never => value === Host,
        () => undefined,
      );
      host.send({ type: 'plain' });
      const before = heard;
      assert.equal(host.isLater(before), true);
      host.acts();
      assert.equal(host.isLater(before), false);
      host.ask('line', { type: 'asks' }, () => undefined);
      assert.equal(host.isLater(before), false);
      assert.equal(host.isLater(heard), true);
    } finally {
      delete page.window;
      delete page.acquireVsCodeApi;
    }
  });
});
