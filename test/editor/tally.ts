// What was run and what came of it, added up over the suite and the scenes.

export interface Tally {
  passed: number;
  failed: number;
  skipped: number;
}

export const nothing: Tally = { passed: 0, failed: 0, skipped: 0 };

export function add(...tallies: Tally[]): Tally {
  return tallies.reduce((sum, { passed, failed, skipped }) => ({
    passed: sum.passed + passed, failed: sum.failed + failed, skipped: sum.skipped + skipped,
  }), nothing);
}

export const describe = ({ passed, failed, skipped }: Tally) => `${passed} passed, ${failed} failed, ${skipped} skipped`;
