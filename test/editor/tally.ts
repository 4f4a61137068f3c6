// What was run and what came of it, added up over the suite and the scenes.

export interface Tally {
  passed: number;
  failed: number;
  skipped: number;
  /** Of those that passed: at the second try only. */
  again: number;
}

export const nothing: Tally = { passed: 0, failed: 0, skipped: 0, again: 0 };

export function add(...tallies: Tally[]): Tally {
  return tallies.reduce(
    (sum, { passed, failed, skipped, again }) => ({
      passed: sum.passed + passed,
      failed: sum.failed + failed,
      skipped: sum.skipped + skipped,
      again: sum.again + again,
    }),
    nothing,
  );
}

export const describe = ({ passed, failed, skipped, again }: Tally) =>
  `${passed} passed${again > 0 ? ` (${again} at the second try)` : ''}, ${failed} failed, ${skipped} skipped`;

/**
 * Plays scenes one after the other and says what came of each. On a busy machine an editor loses a click or a key: one that fails is played
 * once more, and that is said and counted.
 */
export async function playAll<Scene extends { readonly name: string }>(
  scenes: readonly Scene[],
  play: (scene: Scene) => Promise<Error | undefined>,
): Promise<Tally> {
  const tally = { ...nothing };
  for (const scene of scenes) {
    const first = await play(scene);
    const second = first && (await play(scene));
    if (second) tally.failed++;
    else tally.passed++;
    if (first && !second) tally.again++;
    const told = second
      ? `\n    ${first!.message}\n    and again: ${second.message}`
      : first
        ? ` (at the second try; the first: ${first.message.split('\n')[0]})`
        : '';
    console.log(`  ${second ? '✘' : '✔'} ${scene.name}${told}`);
  }
  return tally;
}
