// Faults of one kind by the channel they are of: a log of a broken sensor has a hundred thousand, and each rule asks of one kind.

import type { Channel } from '../../formats/session.js';
import type { Fault, FaultKind, Signals } from '../signals.js';

/** By start the faults of that kind of each channel that has any; channels in the order of their first. */
export const faultsByChannel = (signals: Signals, kind: FaultKind): Map<Channel, readonly Fault[]> => {
  const found = signals.faultLists.flatMap((faults) => { const alike = byKind(faults).get(kind); return alike ? [alike] : []; });
  return new Map(found.sort((one, other) => one[0].from - other[0].from).map((alike) => [alike[0].channel, alike]));
};

const kinds = new WeakMap<readonly Fault[], ReadonlyMap<FaultKind, readonly Fault[]>>();

/** A channel's faults by their kind: told apart once, and never where all are of one. */
const byKind = (faults: readonly Fault[]): ReadonlyMap<FaultKind, readonly Fault[]> => {
  let known = kinds.get(faults);
  if (!known) kinds.set(faults, known = tellApart(faults));
  return known;
};

const tellApart = (faults: readonly Fault[]): ReadonlyMap<FaultKind, readonly Fault[]> => {
  if (faults.length === 0) return new Map();
  const { kind } = faults[0];
  if (faults.every((fault) => fault.kind === kind)) return new Map([[kind, faults]]);
  const grouped = new Map<FaultKind, Fault[]>();
  for (const fault of faults) {
    const alike = grouped.get(fault.kind);
    if (alike) alike.push(fault); else grouped.set(fault.kind, [fault]);
  }
  return grouped;
};
