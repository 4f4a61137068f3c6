// Copies of one drive are one witness: a session whose readings stand in another one is counted once.

import { onceFor } from '../../signals/once.js';
import { keptByList } from '../solution/byList.js';
import type { SessionEvidence } from '../weigh.js';

/** Blocks that are looked at: no two drives share most of these, to the last digit and at the same time. */
const LOOKED_AT = 50;
const SHARED = 0.5;

/** Seven digits: as many as kept evidence has. */
const printsOf = onceFor(({ timeS, blocks }: SessionEvidence) =>
  Array.from(timeS.subarray(0, LOOKED_AT), (each, at) => `${each.toPrecision(7)} ${blocks.lnMeasured[at].toPrecision(7)}`),
);

/** The same sessions; of those with the same readings all but the longest are without blocks, and say why. */
export const countedOnce = keptByList((evidences: readonly SessionEvidence[]): readonly SessionEvidence[] => {
  const met = new Set<string>(),
    copies = new Set<SessionEvidence>();
  for (const evidence of [...evidences].sort((a, b) => b.blocks.count - a.blocks.count)) {
    const prints = printsOf(evidence);
    if (prints.length > 0 && prints.filter((print) => met.has(print)).length > SHARED * prints.length) copies.add(evidence);
    else for (const print of prints) met.add(print);
  }
  return copies.size === 0 ? evidences : evidences.map((evidence) => (copies.has(evidence) ? withoutBlocks(evidence) : evidence));
});

const withoutBlocks = onceFor((evidence: SessionEvidence): SessionEvidence => {
  const { weight, blocks } = evidence,
    none = Object.fromEntries(
      Object.entries(blocks).map(([name, values]) => [name, typeof values === 'number' ? 0 : values.subarray(0, 0)]),
    ) as unknown as SessionEvidence['blocks'];
  return {
    ...evidence,
    weight: { ...weight, used: 0, leftOut: { ...weight.leftOut, 'same-readings': weight.used } },
    blocks: none,
    line: evidence.line.subarray(0, 0),
    timeS: evidence.timeS.subarray(0, 0),
  };
});
