// All spells in which a sensor does not tell the truth: the plain ones first, then those that only the drive's events reveal.

import type { Readings } from '../readings.js';
import type { EventKind, Fault } from '../signals.js';

/** Faults that show in the channel alone: blanks, jumps to an end of its scale and back, values no engine can have. */
export const plainFaults = (_readings: Readings): Fault[] => [];

/** Faults that show only against what the engine did meanwhile. */
export const faultsWithEvents = (_readings: Readings, _plain: readonly Fault[], _during: (kind: EventKind) => Uint8Array): Fault[] => [];
