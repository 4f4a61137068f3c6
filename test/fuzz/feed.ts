// Feeds a target with drawn inputs, one by one, in a thread of its own that can be stopped; this file is that thread and what it does.

import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { isMainThread, parentPort, workerData } from 'node:worker_threads';
import { seeded } from '../support/faults/random.js';
import { inputOf, longInputOf } from './mutate.js';
import { TARGETS, type Target } from './targets.js';

/** Which inputs of which target. */
export interface Round {
  readonly target: string;
  readonly seed: number;
  readonly from: number;
  readonly to: number;
  /** One input of so many is a long one. */
  readonly longEvery: number;
}

export interface Fault {
  readonly target: string;
  readonly seed: number;
  readonly index: number;
  readonly what: string;
  readonly bytes: Uint8Array;
}

/**
 * No input may take longer, seconds of processor time a MB; a shorter one as long as one MB. Beside other tests on a small machine twice
 * that: its cores are shared.
 */
export const MOST_S_A_MB = process.env.LEANSPOT_FUZZ_ALONE ? 2 : 4;
/** What is held of an input after it was read and analysed, and what is not given back at once, in bytes a byte of a long input. */
export const MOST_HELD = 400;
/** Long inputs have so many bytes. */
export const LONG_BYTES = 1 << 20;

export const targetOf = (name: string): Target => TARGETS.find((each) => each.name === name)!;

/** The input that a round's index stands for. */
export function inputAt({ target, seed, longEvery }: Round, index: number): Uint8Array {
  const { grammar, isLong } = targetOf(target);
  const random = seeded(Math.imul(seed, 0x9e3779b1) + Math.imul(index + 1, 0x85ebca6b));
  random.next();
  return isLong && index % longEvery === longEvery - 1 ? longInputOf(grammar, random, LONG_BYTES) : inputOf(grammar, random);
}

let collect: (() => void) | undefined;
/** Bytes in use once all that can be is given back. */
function inUse(): number {
  if (!collect) {
    setFlagsFromString('--expose-gc');
    collect = runInNewContext('gc') as () => void;
  }
  collect();
  const { heapUsed, arrayBuffers } = process.memoryUsage();
  return heapUsed + arrayBuffers;
}

/** What is wrong with the answer to an input; undefined where all holds. */
export function faultOf(target: Target, bytes: Uint8Array): string | undefined {
  const isLong = bytes.length >= LONG_BYTES;
  const before = isLong ? inUse() : 0;
  const mostS = MOST_S_A_MB * Math.max(1, bytes.length / 2 ** 20);
  let answer: unknown;
  let leastS = Infinity;
  // The processor's time too grows where others use its core: what seems slow is tried again.
  for (let tries = 0; tries < 3 && leastS > mostS; tries++) {
    const started = process.cpuUsage();
    try {
      answer = target.feed(bytes);
    } catch (error) {
      return error instanceof Error ? (error.stack ?? error.message) : String(error);
    }
    const { user, system } = process.cpuUsage(started);
    leastS = Math.min(leastS, (user + system) / 1e6);
  }
  if (leastS > mostS) return `took ${leastS.toFixed(1)} s for ${bytes.length} bytes`;
  if (isLong) {
    const held = (inUse() - before) / bytes.length;
    if (held > MOST_HELD) return `holds ${held.toFixed(0)} bytes a byte`;
    Object.is(answer, before);
  }
  return undefined;
}

/** The same fault told by many inputs is told once. */
const kindOf = (what: string): string =>
  what
    .split('\n')
    .slice(0, 2)
    .join('\n')
    .replace(/[\d.]+/g, '#')
    .replace(/"[^"]*"/g, '"…"')
    .slice(0, 200);

/** Feeds a round; `at` hears of each input before it is fed, `told` of each new kind of fault. */
export function feed(round: Round, at: (index: number) => void, told: (fault: Fault) => void): void {
  const target = targetOf(round.target);
  const kinds = new Set<string>();
  for (let index = round.from; index < round.to; index++) {
    at(index);
    const bytes = inputAt(round, index);
    const what = faultOf(target, bytes);
    if (what === undefined || kinds.has(kindOf(what))) continue;
    kinds.add(kindOf(what));
    told({ target: round.target, seed: round.seed, index, what, bytes });
  }
}

if (!isMainThread && (workerData as { fuzz?: unknown } | null)?.fuzz === true) {
  const { rounds, progress } = workerData as { rounds: readonly Round[]; progress: Int32Array };
  rounds.forEach((round, number) => {
    feed(
      round,
      (index) => {
        Atomics.store(progress, 0, number);
        Atomics.store(progress, 1, index);
      },
      (fault) => parentPort!.postMessage(fault),
    );
  });
}
