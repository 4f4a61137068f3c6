// Selection against sorting, and what it costs: how often a number is read is counted, not timed.

import assert from 'node:assert/strict';
import { medianByPlace, medianOfSorted, selected } from '../../server/src/formats/median.js';
import { randomOf, runSeed } from '../support/simulator/random.js';

const { next: random } = randomOf(runSeed());
const ORDERS: Readonly<Record<string, (at: number, count: number) => number>> = {
  rising: (at) => at,
  falling: (at, count) => count - at,
  'up and down': (at, count) => Math.min(at, count - at),
  'all the same': () => 7,
  'of two': (at) => at % 2,
  'in no order': () => random(),
  'with gaps': (at) => (at % 3 === 0 ? random() : NaN),
  'a sine in step with what is looked at': (at, count) => Math.sin((2 * Math.PI * at) / Math.max(1, Math.floor((count - 1) / 46))),
  'some without end': (at) => (at % 5 === 0 ? -at : Infinity),
};
const numbersBy = (order: string, count: number): Float64Array => Float64Array.from({ length: count }, (_, at) => ORDERS[order](at, count));

suite('a number chosen by its place', () => {
  for (const order of Object.keys(ORDERS)) {
    test(`is the one that stands there among sorted ones: ${order}`, () => {
      for (let round = 0; round < 200; round++) {
        const numbers = numbersBy(order, 1 + Math.floor(900 * random())),
          sorted = numbers.filter((value) => value === value).sort(),
          place = Math.floor(numbers.length * random());
        assert.equal(selected(numbers.slice(), place) + 0, (sorted[place] ?? NaN) + 0);
        if (sorted.length === numbers.length) assert.equal(medianByPlace(numbers) + 0, medianOfSorted(sorted) + 0);
      }
    });
    test(`reads each number a few times, wherever it stands: ${order}`, () => {
      for (const share of [0.008, 0.97]) {
        let reads = 0;
        const numbers = numbersBy(order, 8000),
          counted = new Proxy(numbers, {
            get: (target, key) => {
              reads++;
              return Reflect.get(target, key, target) as unknown;
            },
          });
        selected(counted, Math.round(share * (numbers.length - 1)));
        assert.ok(reads < 30 * numbers.length, `${share}: ${reads / numbers.length} a number`);
      }
    });
  }
});
