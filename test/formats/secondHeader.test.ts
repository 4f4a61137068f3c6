// A logger that was started anew writes its header again, and what a column holds is what the header above it says (RFC 4180: the header
// gives the names of the fields).

import assert from 'node:assert/strict';
import { sessionFindings } from '../../server/src/findings/check.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

const COLUMNS = {
  'Time (s)': (t: number) => t.toFixed(1),
  'Engine Speed (rpm)': (t: number) => String(2000 + 7 * Math.round(t)),
  'Throttle (%)': (t: number) => (20 + t / 50).toFixed(1),
  'Lambda (λ)': (t: number) => (1 + 0.01 * Math.sin(t)).toFixed(3),
};
type Name = keyof typeof COLUMNS;
const FIRST: readonly Name[] = ['Time (s)', 'Engine Speed (rpm)', 'Throttle (%)', 'Lambda (λ)'],
  TURNED: readonly Name[] = ['Time (s)', 'Lambda (λ)', 'Engine Speed (rpm)', 'Throttle (%)'];
const part = (names: readonly Name[], fromS: number, toS: number, quote = ''): string =>
  [
    names.map((name) => quote + name + quote).join(),
    ...Array.from({ length: 10 * (toS - fromS) }, (_, at) => names.map((name) => COLUMNS[name](fromS + at / 10)).join()),
  ].join('\n') + '\n';

const read = (text: string) => {
  const session = readSession(textSource(text)),
    told = sessionFindings(analyse(session, EMPTY_VEHICLE)).filter(({ code }) => code === 'header-duplicate');
  return {
    session,
    told: told.map(({ severity, range, message }) => [severity, range.start.line, /The (\d+) rows/.exec(message)?.[1]] as const),
  };
};

suite('a second header in a session', () => {
  // Long enough for the compiled reader as well.
  for (const seconds of [20, 900])
    for (const quote of ['', '"'])
      test(`in another order is told at its line, and the rows behind it are left out (${seconds} s${quote})`, () => {
        const { session, told } = read(part(FIRST, 0, seconds) + part(TURNED, seconds, seconds + 30, quote));
        assert.deepEqual(told, [['error', 10 * seconds + 1, '300']]);
        const lambda = session.channels.find(({ quantity }) => quantity === 'lambda')!.values;
        assert.equal(lambda.length, 10 * seconds);
        assert.ok(lambda.every((value) => value > 0.98 && value < 1.02));
      });
  test('in the first order ends that', () => {
    const { session, told } = read(part(FIRST, 0, 20) + part(TURNED, 20, 30) + part(FIRST, 30, 40));
    assert.deepEqual(told, [['error', 201, '100']]);
    assert.ok(session.channels.find(({ quantity }) => quantity === 'lambda')!.values.every((value) => !(value > 1.02)));
    assert.ok(session.timeS.length >= 300 && session.timeS.length <= 301);
  });
  test('makes no hole of the rows that are left out, and no faults of its own words', () => {
    const { session } = read(part(FIRST, 0, 20) + part(TURNED, 20, 30) + part(FIRST, 30, 40));
    assert.deepEqual(
      session.problems.map(({ kind }) => kind),
      ['turned'],
    );
    // Nothing was logged from 40 s on for 20 s.
    const { session: holed } = read(part(FIRST, 0, 20) + part(TURNED, 20, 30) + part(FIRST, 30, 40) + part(FIRST, 60, 70));
    assert.ok(holed.problems.some(({ kind, data }) => kind === 'gap' && Math.round(Number(data.gapS)) === 20));
  });
  for (const quote of ['', '"'])
    test(`that says the same is no reading and no fault of one, with a row of units or without${quote && ', in quotes'}`, () => {
      const units = 's,[rpm],%,λ\n',
        bare = (text: string): string => text.replace(/ \(.*?\)/g, ''),
        [before, behind] = [part(FIRST, 0, 20, quote), part(FIRST, 20, 30, quote)];
      for (const text of [before + behind, bare(before).replace('\n', `\n${units}`) + bare(behind).replace('\n', `\n${units}`)]) {
        const { session } = read(text);
        assert.deepEqual([session.timeS.length, session.problems.map(({ kind }) => kind)], [300, []]);
      }
    });
  test('that says the same without its units, in capitals, or the units alone, is no reading either', () => {
    const again = FIRST.map((name) => name.replace(/ \(.*/, ''));
    for (const row of [again, again.map((name) => name.toUpperCase()), ['s', 'rpm', '%', 'λ']]) {
      const { session } = read(`${part(FIRST, 0, 20)}${row.join()}\n${part(FIRST, 20, 30).replace(/^.*\n/, '')}`);
      assert.deepEqual([session.timeS.length, session.problems.map(({ kind }) => kind)], [300, []]);
    }
  });
  test('is none where one name, or one unit, stands among readings: that cell is told', () => {
    for (const word of ['Lambda (λ)', 'lambda', 'λ', 'Throttle (%)']) {
      const { session } = read(`${part(FIRST, 0, 20)}20.0,2140,20.4,${word}\n${part(FIRST, 21, 30).replace(/^.*\n/, '')}`);
      const told = session.problems.filter(({ code }) => code === 'value-not-a-number');
      assert.deepEqual([session.timeS.length, told.map(({ range }) => range.start.line)], [291, [201]], word);
    }
  });
  test('that says the same, or a row of other words, is none', () => {
    assert.deepEqual(read(part(FIRST, 0, 20) + part(FIRST, 20, 30)).told, []);
    assert.deepEqual(read(`${part(FIRST, 0, 20)}stopped,by,the,driver\n`).told, []);
  });
});
