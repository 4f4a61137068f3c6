// Faults of one kind by the channel they are of: each rule asks of one kind.

import type { Channel } from '../../formats/session/session.js';
import type { Fault, FaultKind, Signals } from '../signals.js';

/** By start the faults of that kind of each channel that has any; channels in the order of their first. */
export const faultsByChannel = (signals: Signals, kind: FaultKind): Map<Channel, readonly Fault[]> => {
  const found = signals.faultLists.map((faults) => faults.ofKind(kind)).filter(({ length }) => length > 0);
  return new Map(found.sort((one, other) => one[0].from - other[0].from).map((alike) => [alike[0].channel, alike]));
};
