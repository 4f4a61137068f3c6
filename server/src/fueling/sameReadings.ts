// Copies of one drive are one witness: a session whose readings stand in another one is counted once.

import { keptByList } from './byList.js';
import type { SessionEvidence } from './weigh.js';

/** Blocks that are looked at: no two drives share most of these, to the last digit and at the same time. */
const LOOKED_AT = 50;
const SHARED = 0.5;

const printed = new WeakMap<SessionEvidence, readonly string[]>();
const emptied = new WeakMap<SessionEvidence, SessionEvidence>();

const printsOf = (evidence: SessionEvidence): readonly string[] => {
  let prints = printed.get(evidence);
  // Seven digits: as many as kept evidence has.
  if (!prints) printed.set(evidence, prints = Array.from(evidence.timeS.subarray(0, LOOKED_AT), (timeS, at) => `${timeS.toPrecision(7)} ${evidence.blocks.lnMeasured[at].toPrecision(7)}`));
  return prints;
};

/** The same sessions; of those with the same readings all but the longest are without blocks, and say why. */
export const countedOnce = keptByList((evidences: readonly SessionEvidence[]): readonly SessionEvidence[] => {
  const met = new Set<string>(), copies = new Set<SessionEvidence>();
  for (const evidence of [...evidences].sort((a, b) => b.blocks.count - a.blocks.count)) {
    const prints = printsOf(evidence);
    if (prints.length > 0 && prints.filter((print) => met.has(print)).length > SHARED * prints.length) copies.add(evidence);
    else for (const print of prints) met.add(print);
  }
  return copies.size === 0 ? evidences : evidences.map((evidence) => (copies.has(evidence) ? withoutBlocks(evidence) : evidence));
});

const withoutBlocks = (evidence: SessionEvidence): SessionEvidence => {
  let empty = emptied.get(evidence);
  if (empty) return empty;
  const { weight, blocks } = evidence, none = Object.fromEntries(Object.entries(blocks).map(([name, values]) => [name, typeof values === 'number' ? 0 : values.subarray(0, 0)])) as unknown as SessionEvidence['blocks'];
  emptied.set(evidence, empty = { ...evidence, weight: { ...weight, used: 0, leftOut: { ...weight.leftOut, 'same-readings': weight.used } }, blocks: none, line: evidence.line.subarray(0, 0), timeS: evidence.timeS.subarray(0, 0) });
  return empty;
};
