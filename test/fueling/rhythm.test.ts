// Channels that repeat their last value: which rows are new, and the line between them. Arithmetic on stated inputs.

import assert from 'node:assert/strict';
import {
  betweenCycles,
  betweenFresh,
  betweenReadings,
  freshRows,
  freshRowsOfMost,
  isOncePerCycle,
  nearestReading,
  unseenS,
} from '../../server/src/fueling/delay/rhythm.js';
import { randomFrom } from './tinyEngine.js';

suite("a channel's own rhythm", () => {
  const size = 2000;
  const timeS = Float64Array.from({ length: size }, (_, row) => row / 50);
  const moving = (row: number): number => 40 + 10 * Math.sin(row / 90) + Math.sin(row / 11);
  const everyRow = Float64Array.from({ length: size }, (_, row) => moving(row));
  const everyFifth = Float64Array.from({ length: size }, (_, row) => moving(row - (row % 5)));

  test('a value repeated until the next is new at the next', () => {
    const fresh = freshRows(everyFifth)!;
    assert.ok(fresh.length > 390 && fresh.every((row) => row % 5 === 0));
    betweenFresh(everyFifth, timeS).forEach((value, row) => {
      if (row >= fresh[0] && row < 1995) assert.ok(Math.abs(value - moving(row)) < 0.05, `${row}: ${value}`);
    });
  });

  test('one that is blank until it is first read, or for a spell, keeps its rhythm and its blanks', () => {
    const withBlanks = everyFifth.map((value, row) => (row < 5 || (row >= 700 && row < 735) ? NaN : value)),
      fresh = freshRows(withBlanks)!;
    assert.ok(fresh.length > 380 && fresh.every((row) => withBlanks[row] > 0 && row % 5 === 0));
    betweenFresh(withBlanks, timeS).forEach((value, row) => {
      if (Number.isNaN(withBlanks[row])) assert.ok(Number.isNaN(value), `${row}`);
      else if (row >= fresh[0] && row < 1995)
        assert.ok(Math.abs(value - (row >= 695 && row < 700 ? moving(695) : moving(row))) < 0.05, `${row}: ${value}`);
    });
  });

  test('what is new in every row, what has blanks, and a switch stay as they are', () => {
    assert.equal(freshRows(everyRow), undefined);
    assert.equal(betweenFresh(everyRow, timeS), everyRow);
    assert.equal(freshRows(everyRow.map((value, row) => (row % 5 === 0 ? value : NaN))), undefined);
    assert.equal(freshRows(everyRow.map((_, row) => (row % 300 < 40 + (row % 7) ? 1 : 0))), undefined);
  });

  test('one read twelve times a second in twenty rows is on the whole half a row old, as any that is read between two rows, and not half of its own period', () => {
    // A ramp that grows steeper: by how much the line is below it, over its slope, it is old. Read every 1/12 s, each reading from its
    // first row on.
    const ramp = (now: number): number => now + now ** 2 / 40,
      seconds = Float64Array.from({ length: 4000 }, (_, row) => row / 20);
    const held = seconds.map((now) => ramp(Math.floor(now * 12 + 1e-9) / 12)),
      line = betweenFresh(held, seconds);
    const oldS = (column: Float64Array): number =>
      column.slice(10, 3990).reduce((sum, value, at) => sum + (ramp(seconds[at + 10]) - value) / (1 + seconds[at + 10] / 20), 0) / 3980;
    assert.ok(Math.abs(oldS(held) - (1 / 12 - 1 / 60) / 2) < 0.002, `${oldS(held)}`);
    // At the rows at which it is new: 0, 1/60 or 2/60 s, in turn.
    assert.ok(Math.abs(oldS(line) - 1 / 60) < 0.004, `${oldS(line)}`);
    assert.ok(freshRowsOfMost(held)!.every((row) => row === 0 || held[row] !== held[row - 1]));
  });

  test('one that is new in every row, and by its digits often the same, stays as it is, still or moving', () => {
    const random = randomFrom(3),
      chance = Float64Array.from({ length: 6000 }, (_, row) => Math.round(3 * random() + (row > 3000 ? (row % 400) / 20 : 0)));
    assert.equal(freshRowsOfMost(chance), undefined);
    assert.equal(freshRowsOfMost(everyRow.map((value) => Math.round(4 * value) / 4)), undefined);
  });

  test('one that stays until its reader comes by, at any row, is new where it changes, and no older than a row is long', () => {
    for (const repeated of [0.25, 0.5, 0.8]) {
      const random = randomFrom(7),
        read = (row: number): number => Math.round(100 * (everyRow[row] + 0.05 * random())) / 100,
        held = new Float64Array(size);
      for (let row = 0, last = read(0); row < size; row++) held[row] = last = row > 0 && random() < repeated ? last : read(row);
      const fresh = freshRowsOfMost(held)!,
        line = betweenFresh(held, timeS);
      assert.ok(Math.abs(fresh.length / size - (1 - repeated)) < 0.05, `${fresh.length}`);
      const ageS = (column: Float64Array): number => {
        let [product, square] = [0, 0];
        for (let row = 100; row < size - 100; row++) {
          const perS = 25 * (moving(row + 1) - moving(row - 1));
          product += perS * (moving(row) - column[row]);
          square += perS ** 2;
        }
        return product / square;
      };
      assert.ok(Math.abs(ageS(held) - repeated / (1 - repeated) / 50) < 0.01, `${ageS(held)}`);
      assert.ok(Math.abs(ageS(line)) < 0.002, `${ageS(line)}`);
    }
  });

  test('between readings a moment is as open as a line between them leaves it: by g / √12 where they come every g seconds, by √(6 g² / 12) where as chance has it', () => {
    // Of gaps that chance makes, E g³ / E g = 6 (E g)² (exponential distribution).
    const chance = randomFrom(11),
      at = Int32Array.from(
        { length: 4000 },
        (() => {
          let row = 0;
          return () => (row += 1 + Math.round(-100 * Math.log(1 - chance())));
        })(),
      );
    const every = Int32Array.from({ length: 500 }, (_, each) => 20 * each),
      seconds = Float64Array.from({ length: at[at.length - 1] + 1 }, (_, row) => row / 1000);
    assert.ok(Math.abs(unseenS(every, seconds) - 0.02 / Math.sqrt(12)) < 1e-9);
    assert.ok(Math.abs(unseenS(at, seconds) - 0.101 * Math.sqrt(0.5)) < 0.006, `${unseenS(at, seconds)}`);
    assert.equal(unseenS(undefined, seconds), 0);
  });

  test('what a foot, a stop of the scale or coarse digits hold is not old', () => {
    const random = randomFrom(9);
    // A pedal moved within a third of a second now and then, without any noise; a speed in steps of 25 rpm; lambda at its lean end in every
    // cut.
    let [from, to, at] = [0, 20, 0];
    const pedal = Float64Array.from({ length: 6000 }, (_, row) => {
      if (row - at > 25 + 60 * random()) [from, to, at] = [to, 80 * random(), row];
      return from + (to - from) * Math.min(1, (row - at) / 6);
    });
    assert.equal(freshRowsOfMost(pedal), undefined);
    assert.equal(
      freshRowsOfMost(
        Float64Array.from({ length: 6000 }, (_, row) => 25 * Math.round((2500 + 1500 * Math.sin(row / 60) + 20 * random()) / 25)),
      ),
      undefined,
    );
    assert.equal(freshRowsOfMost(Float64Array.from({ length: 6000 }, (_, row) => (row % 90 < 30 ? 1.6 : 1 + 0.03 * random()))), undefined);
  });

  test('a pulse that is off is not led to nought step by step', () => {
    const pulses = everyFifth.map((value, row) => (row >= 1000 && row < 1100 ? 0 : value));
    const line = betweenFresh(pulses, timeS);
    for (let row = 0; row < size; row++) assert.ok(line[row] === 0 || line[row] > 20, `${row}: ${line[row]}`);
  });

  test('a target read in every fifth row runs straight between its readings, and ends where it is no longer held', () => {
    const own = Float64Array.of(NaN, 1, NaN, NaN, NaN, NaN, 0.9, NaN, NaN, 0.9, NaN, NaN, NaN, 0.8),
      held = Float64Array.of(NaN, 1, 1, 1, 1, 1, 0.9, 0.9, 0.9, 0.9, 0.9, NaN, NaN, 0.8);
    const seconds = Float64Array.from({ length: own.length }, (_, row) => row / 25),
      line = betweenReadings(held, own, seconds);
    [NaN, 1, 0.98, 0.96, 0.94, 0.92, 0.9, 0.9, 0.9, 0.9, 0.9, NaN, NaN, 0.8].forEach((value, row) =>
      assert.ok(Object.is(line[row], value) || Math.abs(line[row] - value) < 1e-12, `${row}: ${line[row]}`),
    );
  });

  test('a switch thrown at any moment between its readings is on the whole seen to be thrown then', () => {
    const seconds = Float64Array.from({ length: 400 }, (_, row) => row / 100),
      every = 20;
    let late = 0,
      heldLate = 0;
    for (let thrownS = 1; thrownS < 3; thrownS += 0.0035) {
      const held = seconds.map((_, row) => (seconds[row - (row % every)] > thrownS ? 1 : 0)),
        near = nearestReading(
          held,
          held.map((value, row) => (row % every ? NaN : value)),
          seconds,
        );
      // Seen to be thrown half-way between the last row before and the first one after; half a row is what rows leave open.
      late += seconds[near.indexOf(1)] - 0.005 - thrownS;
      heldLate += seconds[held.indexOf(1)] - 0.005 - thrownS;
    }
    const count = 2 / 0.0035;
    assert.ok(Math.abs(late / count) <= 0.005, `${late / count}`);
    assert.ok(Math.abs(heldLate / count - 0.095) < 0.005, `${heldLate / count}`);
  });

  // At 900 rpm a cycle lasts 120/900 = 0.133 s, seven rows at 50 a second. What is asked of every cylinder sways by a fifth, and by more
  // than 1 % a row at its fastest.
  const rowsS = Float64Array.from({ length: 3000 }, (_, row) => row / 50),
    speed = new Float64Array(3000).fill(900),
    cycleS = 120 / 900;
  const asked = (s: number): number => 3 * Math.exp(0.2 * Math.sin((2 * Math.PI * s) / 1.5));
  const injectedLast = (cylinders: number): Float64Array =>
    rowsS.map((s) => asked((Math.floor((s * cylinders) / cycleS) * cycleS) / cylinders));
  const lnAsked = rowsS.map((s) => Math.log(asked(s)));

  test("a pulse that is one cylinder's is new once an engine cycle; one that is the latest of four cylinders' is not, and where rows are longer than cycles nothing tells", () => {
    assert.equal(isOncePerCycle(injectedLast(1), lnAsked, rowsS, speed), true);
    assert.equal(isOncePerCycle(injectedLast(4), lnAsked, rowsS, speed), false);
    assert.equal(
      isOncePerCycle(
        injectedLast(1),
        lnAsked,
        rowsS.map((s) => 20 * s),
        speed,
      ),
      false,
    );
    assert.equal(isOncePerCycle(injectedLast(1), new Float64Array(lnAsked.length), rowsS, speed), false);
  });

  test("a pulse in coarse digits that stays by them alone is no one cylinder's", () => {
    const inDigits = (values: Float64Array, digitMs: number): Float64Array => values.map((value) => Math.round(value / digitMs) * digitMs);
    for (const digitMs of [0.01, 0.05, 0.1, 0.2])
      assert.equal(isOncePerCycle(inDigits(rowsS.map(asked), digitMs), lnAsked, rowsS, speed), false, `${digitMs}`);
    assert.equal(isOncePerCycle(inDigits(injectedLast(1), 0.01), lnAsked, rowsS, speed), true);
  });

  test('a speed that dropped out, or was not read, leaves the pulse as it is', () => {
    const held = injectedLast(1);
    for (const rpm of [0, NaN]) assert.deepEqual(betweenCycles(held, rowsS, new Float64Array(3000).fill(rpm)), held);
  });

  test("between one cylinder's pulses stands what the others get meanwhile: not half a cycle old, as it is taken row by row", () => {
    const held = injectedLast(1),
      line = betweenCycles(held, rowsS, speed);
    // Mean age, by regression on how fast what is asked moves.
    const ageS = (values: Float64Array): number => {
      let [product, square] = [0, 0];
      for (let row = 100; row < 2900; row++) {
        const perS = (asked(rowsS[row] + 0.001) - asked(rowsS[row] - 0.001)) / 0.002;
        product += perS * (asked(rowsS[row]) - values[row]);
        square += perS ** 2;
      }
      return product / square;
    };
    assert.ok(Math.abs(ageS(held) - cycleS / 2) < 0.01, `${ageS(held)}`);
    assert.ok(Math.abs(ageS(line)) < 0.01, `${ageS(line)}`);
  });

  test("no line is drawn from one cylinder's pulse to a cut, nor through a pulse that stood still for longer than a cycle", () => {
    const pulse = rowsS.map((s) => (s < 10 ? 3 : s < 20 ? 5 : 0)),
      line = betweenCycles(pulse, rowsS, speed);
    rowsS.forEach((s, row) => {
      if (s < 10 - cycleS - 0.02) assert.equal(line[row], 3);
      else if (s >= 10) assert.equal(line[row], pulse[row]);
      else assert.ok(line[row] >= 3 && line[row] <= 5);
    });
  });
});
