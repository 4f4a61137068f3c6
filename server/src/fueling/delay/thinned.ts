// A session as the fuel table sees it, by some of its rows: enough for a rough answer on the table, such as the delay is first sought with.

import type { Readings } from '../readings.js';
import { roomFor } from '../room.js';
import type { Track } from '../track.js';

/** Rows and readings this far apart will do: a few a block. */
const STEP_S = 0.15;

export const thinned = (track: Track): Track => {
  const { timeS, readings, reason, unasked, filling, rpm, manifoldKPa, targetMoved } = track,
    last = timeS.length - 1;
  const stride = Math.floor((STEP_S * last) / (timeS[last] - timeS[0]));
  if (!(stride > 1 && stride < last) || readings.row.length === 0) return track;
  // Where readings come at this very pace, each has its row.
  const first = readings.row[0] % stride,
    some = (values: Float64Array): Float64Array => strided(values, first, stride);
  // Written out in a track's own order, of one shape with it: what is compiled for a track serves its few rows too.
  return {
    beyond: track.beyond,
    grid: track.grid,
    timeS: some(timeS),
    columnPosition: some(track.columnPosition),
    rowPosition: some(track.rowPosition),
    commanded: some(track.commanded),
    target: some(track.target),
    lnTarget: some(track.lnTarget),
    targetMoved: targetMoved && some(targetMoved),
    rpm: rpm && some(rpm),
    exhaustGPerS: some(track.exhaustGPerS),
    passed: some(track.passed),
    meteredGPerS: some(track.meteredGPerS),
    film: some(track.film),
    chargeFilm: some(track.chargeFilm),
    manifoldKPa: manifoldKPa && some(manifoldKPa),
    throttle: undefined,
    metered: undefined,
    unasked: unasked && some(unasked),
    chargeByPressure: track.chargeByPressure,
    byThrottle: track.byThrottle,
    throughManifold: track.throughManifold,
    filling: filling && some(filling),
    cut: undefined,
    cutIsOld: track.cutIsOld,
    reason: anyWithin(reason, first, stride),
    assumed: track.assumed,
    unseenS: track.unseenS,
    readings: fewer(readings, timeS, first, stride),
  };
};

const strided = (values: Float64Array, first: number, stride: number): Float64Array => {
  const some = roomFor(Math.ceil((values.length - first) / stride));
  for (let at = 0, from = first; at < some.length; at++, from += stride) some[at] = values[from];
  return some;
};

/** A row is left out where any is up to the next. */
const anyWithin = (reason: Uint8Array, first: number, stride: number): Uint8Array => {
  const some = new Uint8Array(Math.ceil((reason.length - first) / stride));
  for (let row = first, at = 0; at < some.length; at++) {
    for (const end = Math.min(row + stride, reason.length); row < end; row++) if (reason[row] > some[at]) some[at] = reason[row];
  }
  return some;
};

/** Every so-manieth reading, at the nearest row. */
const fewer = ({ kind, row, lnLambda, lnShown, bankSpread }: Readings, timeS: Float64Array, first: number, stride: number): Readings => {
  const every = Math.max(1, Math.floor((STEP_S * (row.length - 1)) / (timeS[row[row.length - 1]] - timeS[row[0]])));
  const rows = new Int32Array(Math.ceil(row.length / every)),
    most = Math.floor((timeS.length - 1 - first) / stride);
  for (let at = 0; at < rows.length; at++) rows[at] = Math.min(most, Math.round((row[at * every] - first) / stride));
  return {
    kind,
    row: rows,
    lnLambda: strided(lnLambda, 0, every),
    lnShown: strided(lnShown, 0, every),
    bankSpread: bankSpread && strided(bankSpread, 0, every),
  };
};
