// Faults by the channel they are of, in one pass: a log of a broken sensor has a hundred thousand.

import type { Channel } from '../../formats/session.js';
import type { Fault } from '../signals.js';

/** The faults of each channel that has any, in their order; channels in the order of their first fault. */
export const byChannel = (faults: Iterable<Fault>): Map<Channel, Fault[]> => {
  const grouped = new Map<Channel, Fault[]>();
  for (const fault of faults) {
    const alike = grouped.get(fault.channel);
    if (alike) alike.push(fault); else grouped.set(fault.channel, [fault]);
  }
  return grouped;
};
