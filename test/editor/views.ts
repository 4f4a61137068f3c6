// Our views as a scene meets them: frames within frames of the page, found by what they show.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Frame, Page } from 'playwright-core';

/** The frame of a view that is shown and drawn; `which` tells it from other views by a selector in its page. Waits for it. */
export async function viewIn(page: Page, which = 'body'): Promise<Frame> {
  const outer = page.locator('iframe.webview:visible');
  await outer.first().waitFor();
  const drawn = (at: number) =>
    outer.nth(at).contentFrame().locator('iframe#active-frame').contentFrame().locator(`${which}[data-painted="true"]`);
  // At most two views stand beside each other in a scene; whichever is drawn first and fits is the one.
  const found = await Promise.any(
    [0, 1].map(async (at) => {
      await drawn(at).waitFor({ state: 'attached' });
      return drawn(at).elementHandle();
    }),
  );
  const frame = await found?.ownerFrame();
  if (!frame) throw new Error('the view went away');
  return frame;
}

/** Fails on what axe-core calls serious or critical in a view. */
export async function accessible(frame: Frame): Promise<void> {
  const source = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
  await frame.evaluate(source);
  const faults = await frame.evaluate(async () => {
    const { axe } = globalThis as unknown as {
      axe: { run(): Promise<{ violations: { id: string; impact: string; nodes: { html: string; any: { message: string }[] }[] }[] }> };
    };
    const { violations } = await axe.run();
    return violations
      .filter(({ impact }) => impact === 'serious' || impact === 'critical')
      .map(
        ({ id, nodes }) =>
          `${id}: ${nodes
            .slice(0, 3)
            .map(({ html, any }) => `${html.slice(0, 120)} (${any[0]?.message ?? ''})`)
            .join('; ')}`,
      );
  });
  if (faults.length > 0) throw new Error(`not accessible: ${faults.join('\n')}`);
}
