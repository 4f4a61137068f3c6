// Session files of every dialect and form, read by hand beforehand: values, times, places, problems.

import assert from 'node:assert/strict';
import { withThousands } from '../../server/src/formats/session/partedColumns.js';
import iconv from 'iconv-lite';
import type { Session } from '../../server/src/formats/session/session.js';
import { channelOf } from '../../server/src/formats/session/session.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE, type Vehicle } from '../../server/src/formats/vehicle/vehicle.js';
import type { QuantityId } from '../../server/src/quantities/quantity.js';

const read = (text: string, vehicle?: Partial<Vehicle>): Session =>
  readSession(textSource(text), vehicle ? { vehicle: { ...EMPTY_VEHICLE, ...vehicle } } : {});
const values = (session: Session, quantity: QuantityId): number[] => [...(channelOf(session, quantity)?.values ?? [])];
const kinds = (session: Session): string[] => session.problems.map((problem) => `${problem.code} ${problem.kind}`);
const problem = (session: Session, code: string, kind: string) => {
  const found = session.problems.find((each) => each.code === code && each.kind === kind);
  assert.ok(found, `${code} ${kind} among ${kinds(session).join(', ')}`);
  return found;
};
const nearly = (actual: readonly number[], expected: readonly number[], tolerance = 1e-9): void => {
  assert.equal(actual.length, expected.length, String(actual));
  actual.forEach((value, index) =>
    assert.ok(Object.is(value, expected[index]) || Math.abs(value - expected[index]) <= tolerance, `${actual} is not ${expected}`),
  );
};
const place = (line: number, from: number, to: number) => ({ start: { line, character: from }, end: { line, character: to } });

const PLAIN = 'Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Lambda\n0,800,35,1.01\n0.1,810,36.5,0.99\n0.2,,37,\n';

suite('session reader: dialects', () => {
  test('a plain file', () => {
    const session = read(PLAIN);
    nearly([...session.timeS], [0, 0.1, 0.2]);
    nearly(values(session, 'engine-speed'), [800, 810, NaN]);
    nearly(values(session, 'manifold-pressure'), [35, 36.5, 37]);
    nearly(values(session, 'lambda'), [1.01, 0.99, NaN]);
    assert.deepEqual(session.problems, []);
    assert.equal(channelOf(session, 'engine-speed')?.filled, 2);
    assert.deepEqual(session.places.cellRange(1, 1), place(2, 8, 12));
    assert.equal(session.places.cellText(1, 1), '36.5');
    assert.deepEqual(session.places.spanRange(0, 0, 2), { start: { line: 1, character: 2 }, end: { line: 3, character: 4 } });
    assert.equal(session.places.sampleAt(0), undefined);
    assert.equal(session.places.sampleAt(3), 2);
    assert.equal(session.places.channelAt(2, 1), -1);
    assert.equal(session.places.channelAt(2, 9), 1);
    assert.equal(session.places.channelAt(2, 200), undefined);
  });

  for (const [name, change] of Object.entries<(text: string) => string>({
    semicolons: (text) => text.replaceAll(',', ';'),
    tabs: (text) => text.replaceAll(',', '\t'),
    'semicolons and decimal commas': (text) => text.replaceAll(',', ';').replaceAll('.', ','),
    'tabs and decimal commas': (text) => text.replaceAll(',', '\t').replaceAll('.', ','),
    // RFC 4180, 2.6: a field that holds a comma is enclosed in double quotes.
    'commas and decimal commas in quotes': (text) => text.replaceAll(/(\d+)\.(\d+)/g, '"$1,$2"'),
    CRLF: (text) => text.replaceAll('\n', '\r\n'),
    'CR alone': (text) => text.replaceAll('\n', '\r'),
    'mixed line ends': (text) => text.replace('\n', '\r\n').replace('rpm', 'rpm'),
    'a byte order mark': (text) => `\ufeff${text}`,
    'trailing delimiters': (text) => text.replaceAll('\n', ',\n'),
    'trailing delimiters in the rows only': (text) => text.replaceAll('\n', ',\n').replace(',\n', '\n'),
    'spaces round values': (text) => text.replaceAll(',', ' , '),
    'blank lines': (text) => text.replaceAll('\n', '\n\n'),
    'no line end at the end': (text) => text.replace(/,\n$/, ',0.9').replace(/0\.9$/, ''),
    'every cell quoted': (text) => text.replaceAll(/[^,\n]+/g, '"$&"'),
    'quotes and spaces': (text) => text.replaceAll(/[^,\n]+/g, ' "$&" '),
    'notes between': (text) => text.replaceAll('\n', '\n# note, "x\n'),
  })) {
    test(`${name} read as the plain file`, () => {
      const session = read(change(PLAIN));
      nearly([...session.timeS], [0, 0.1, 0.2]);
      nearly(values(session, 'engine-speed'), [800, 810, NaN]);
      nearly(values(session, 'manifold-pressure'), [35, 36.5, 37]);
      nearly(values(session, 'lambda'), [1.01, 0.99, NaN]);
      assert.deepEqual(session.problems, []);
    });
  }

  // iconv-lite writes the encodings; places are UTF-16 units as in LSP 3.17.
  for (const [encoding, found] of [
    ['utf8', 'utf-8'],
    ['utf16le', 'utf-16le'],
    ['utf16be', 'utf-16be'],
    ['win1252', 'windows-1252'],
  ] as const) {
    test(`${encoding} text, places counted in UTF-16 units`, () => {
      const text = 'Time (s);Kühlmittel "x";Coolant temperature [°C]\n0;ä;80,5\n1;öü;81\n';
      const bytes = iconv.encode(text, encoding, { addBOM: encoding.startsWith('utf16') });
      const session = readSession(bytesSource(bytes));
      assert.equal(session.encoding, found);
      assert.equal(session.decimalComma, true);
      nearly(values(session, 'coolant-temperature'), [80.5, 81]);
      assert.deepEqual(session.places.cellRange(1, 1), place(2, 5, 7));
      assert.deepEqual(session.channels[1].headerRange, place(0, 24, 48));
      assert.equal(session.places.cellText(0, 1), 'öü');
    });
  }

  test('characters outside the basic plane count as two', () => {
    const session = read('Time (s),😀,RPM\n0,😀😀,800\n1,x,900\n');
    assert.deepEqual(session.places.cellRange(1, 0), place(1, 7, 10));
    assert.deepEqual(session.channels[1].headerRange, place(0, 12, 15));
  });

  test('notes are metadata, ignored codes and silent lines', () => {
    const session = read('# Car: demo\n# Rate: 20 Hz\n# ignore: time-gap, row-ragged\n# free text\n\nRPM\n800\n# late: note\n900\n');
    assert.equal(session.metadata.get('car'), 'demo');
    assert.equal(session.metadata.get('late'), 'note');
    assert.deepEqual(session.ignored, ['time-gap', 'row-ragged']);
    assert.equal(session.notes.length, 5);
    nearly([...session.timeS], [0, 0.05]);
    assert.equal(session.places.lineOf(1), 8);
    assert.equal(session.places.sampleAt(7), undefined);
    assert.equal(problem(session, 'channel-missing', 'no-time').data.stated, true);
  });

  test('quoted cells over several lines keep the lines after them right', () => {
    const session = read('Time (s),Note,RPM\n0,"two\nlines",800\n1,x,900\n');
    nearly(values(session, 'engine-speed'), [800, 900]);
    assert.deepEqual(session.places.cellRange(1, 0), place(2, 7, 10));
    assert.deepEqual(session.places.cellRange(0, 0), { start: { line: 1, character: 2 }, end: { line: 2, character: 6 } });
    assert.equal(session.places.sampleAt(2), 0);
    assert.equal(session.places.lineOf(1), 3);
    assert.equal(session.places.channelAt(2, 8), 1);
  });

  test('narrow lines of text before the header are notes', () => {
    const session = read(`Logger of the shop\nDyno run 3\n${PLAIN}`);
    nearly(values(session, 'engine-speed'), [800, 810, NaN]);
    assert.equal(session.notes.length, 2);
    assert.equal(session.places.lineOf(0), 3);
  });
});

suite('session reader: headers and units', () => {
  test('a second row of units', () => {
    const session = read(
      'Time,Engine Speed,Boost,Coolant temp,Gear,Oddity\ns,rpm,psi,°F,-,widgets\n0,1000,0,212,N,1\n1,2000,14.503773773,32,3,2\n',
    );
    nearly(values(session, 'engine-speed'), [1000, 2000]);
    nearly(values(session, 'manifold-pressure'), [101.325, 201.325], 1e-6); // 1 bar = 14.503773773 psi (NIST SP 811), gauge on the standard atmosphere
    nearly(values(session, 'coolant-temperature'), [100, 0]);
    nearly(values(session, 'gear'), [0, 3]);
    assert.equal(channelOf(session, 'engine-speed')?.unitFrom, 'units-row');
    assert.deepEqual(kinds(session), ['unit-unknown barometer-assumed']);
    assert.equal(session.places.lineOf(0), 2);
  });

  test('a logged barometer makes gauge pressure absolute', () => {
    const session = read('Time (s),Boost (kPa),Baro (kPa)\n0,10,90\n1,20,90\n');
    nearly(values(session, 'manifold-pressure'), [100, 110]);
    assert.deepEqual(session.problems, []);
  });

  test('a file without any unit says so once', () => {
    const session = read('TIME (),VEHICLE_SPEED (),THROTTLE (),COOLANT_TEMPERATURE ()\n0,0,10,80\n1,0,10,80\n');
    assert.deepEqual(kinds(session), ['unit-unknown missing']);
    assert.equal(session.problems[0].count, 4);
    assert.equal(session.problems[0].data.noneInFile, true);
    assert.deepEqual(session.problems[0].data.assumed, ['s', 'km/h', '%', '°C']);
  });

  test('an unknown unit is assumed and said, a unit of something else is not believed', () => {
    const session = read('Time (s),Manifold pressure (furlongs),Lambda (V)\n0,35,2.5\n1,36,2.6\n');
    nearly(values(session, 'manifold-pressure'), [35, 36]);
    assert.equal(problem(session, 'unit-unknown', 'unknown').data.assumed, 'kPa');
    assert.equal(channelOf(session, 'lambda'), undefined);
    assert.deepEqual(problem(session, 'unit-unknown', 'unfit').range, place(0, 38, 48));
  });

  test("a dash in a unit's place is no unit, and what the name says holds", () => {
    const session = read('Time (s),Lambda (-),Gear (-),AFR target [–]\n0,0.9,2,13.2\n1,1,2,14.7\n');
    nearly(values(session, 'lambda'), [0.9, 1]);
    nearly(values(session, 'target-lambda'), [13.2 / 14.7, 1]);
    assert.deepEqual(kinds(session), []);
  });

  test('mixtures: gasoline scale, a named fuel, phi, the commanded ratio of J1979', () => {
    const session = read('Time (s),AFR,Target AFR E85\n0,14.7,9.8097\n1,11.76,8.33825\n');
    nearly(values(session, 'lambda'), [1, 0.8]);
    nearly(values(session, 'target-lambda'), [1, 0.85], 2e-3); // E85 9.81 by mass-weighted blending of handbook ratios
    nearly(values(read('Time (s),Equivalence ratio\n0,1.25\n1,1\n'), 'lambda'), [0.8, 1]);
    nearly(values(read('Time (s),Commanded equivalence ratio\n0,0.86\n1,1\n'), 'target-lambda'), [0.86, 1]);
    nearly(values(read('Time (s),Wideband\n0,14.7\n1,14.7\n'), 'lambda'), [1, 1]);
    nearly(values(read('Time (s),Wideband\n0,0.9\n1,1\n'), 'lambda'), [0.9, 1]);
  });

  test('the vehicle file maps a column by its exact header, with a scale', () => {
    const session = read('Time (s),WB2 volts,X (psi)\n0,0.5,14.503773773\n1,2.5,0\n', {
      channels: new Map([
        [
          'WB2 volts',
          {
            quantity: 'lambda',
            scale: [
              [0.5, 0.7],
              [4.5, 1.3],
            ],
          },
        ],
        ['X (psi)', { quantity: 'fuel-pressure' }],
      ]),
    });
    nearly(values(session, 'lambda'), [0.7, 1.0]);
    nearly(values(session, 'fuel-pressure'), [100, 0], 1e-6);
    assert.deepEqual(session.problems, []);
    nearly([channelOf(session, 'lambda')?.toCanonical(4.5) ?? NaN], [1.3]);
  });

  test('doubled headers, two channels of one quantity', () => {
    const session = read('Time (s),Lambda,Lambda,AFR\n0,1,0.9,13\n1,1,0.9,13\n');
    assert.deepEqual(problem(session, 'header-duplicate', 'same-name').range, place(0, 16, 22));
    assert.equal(channelOf(session, 'lambda')?.index, 0);
    assert.equal(session.channels.filter((channel) => channel.quantity === 'lambda').length, 3);
  });

  test('flags, gears and trouble codes', () => {
    const session = read(
      '# trouble-codes: P0420\nTime (s),Fuel cut,Gear,DTC\n0,true,N,\n1,off,R,P0171\n2,ON,2,P0171 P0300\n3,0,3,"P0300"\n',
    );
    nearly(values(session, 'fuel-cut'), [1, 0, 1, 0]);
    nearly(values(session, 'gear'), [0, -1, 2, 3]);
    assert.deepEqual(
      session.codes.map(({ text, sample }) => [text, sample]),
      [
        ['P0420', undefined],
        ['P0171', 1],
        ['P0300', 2],
      ],
    );
    assert.deepEqual(
      session.codes.map(({ range }) => range),
      [place(0, 17, 22), place(3, 8, 13), place(4, 13, 18)],
    );
    assert.deepEqual(session.problems, []);
  });

  test('knock retard logged below zero is turned round and said', () => {
    const session = read('Time (s),Knock retard (deg)\n0,0\n1,-2.5\n');
    nearly(
      values(session, 'knock-retard').map((value) => value + 0),
      [0, 2.5],
    );
    assert.deepEqual(kinds(session), ['unit-unknown sign-turned']);
  });
});

suite('session reader: time', () => {
  const times = (column: string, ...cells: string[]): number[] => [
    ...read(`${column},RPM\n${cells.map((cell) => `${cell},800\n`).join('')}`).timeS,
  ];

  test('every form of time', () => {
    nearly(times('Time (ms)', '1000', '1020', '1040'), [0, 0.02, 0.04]);
    nearly(times('Time (us)', '0', '500', '1500'), [0, 0.0005, 0.0015]);
    nearly(times('Time (min)', '1', '1.5', '2'), [0, 30, 60]);
    nearly(times('Time', '1:02:03.250', '1:02:03.500', '1:02:05'), [0, 0.25, 1.75]);
    nearly(times('Time', '59:59.9', '60:00.1', '61:00'), [0, 0.2, 60.1]);
    nearly(times('Time', '2026-11-24T10:00:00.000Z', '2026-11-24T10:00:00.250Z', '2026-11-24T12:00:00.5+02:00'), [0, 0.25, 0.5], 1e-6);
    nearly(times('Time', '2026-11-24 23:59:59.5', '2026-11-25 00:00:00', '2026-11-25 00:00:00.5'), [0, 0.5, 1], 1e-6);
    nearly(times('Timestamp (s)', '1700000000.25', '1700000000.5', '1700000001'), [0, 0.25, 0.75], 1e-6);
    nearly(times('Timestamp', '1700000000250', '1700000000500', '1700000001000'), [0, 0.25, 0.75], 1e-6);
    nearly(times('Time', '23:59:59.5', '0:00:00', '0:00:00.5'), [0, 0.5, 1]);
    nearly(times('Time', '11/24/2026 11:59:59 PM', '11/25/2026 12:00:00 AM', '11/25/2026 12:00:01 AM'), [0, 1, 2]);
  });

  test('an absolute time says when the session began (ISO 8601; 1700000000 is 2023-11-14T22:13:20Z)', () => {
    assert.equal(read('Time (s),RPM\n1700000000,1\n1700000001,1\n').time.startIso, '2023-11-14T22:13:20.000Z');
    assert.equal(read('Time,RPM\n2026-11-24T10:00:00+01:00,1\n2026-11-24T10:00:01+01:00,1\n').time.startIso, '2026-11-24T09:00:00.000Z');
    assert.equal(read(PLAIN).time.startIso, undefined);
  });

  test('whole seconds repeated are spread evenly until the next', () => {
    const session = read(`Time (s),RPM\n${[0, 0, 0, 1, 1, 1, 1, 2, 2].map((time) => `${time},800\n`).join('')}`);
    nearly([...session.timeS], [0, 1 / 3, 2 / 3, 1, 1.25, 1.5, 1.75, 2, 2 + 1 / 3.5], 0.1);
    nearly([...session.timeS].slice(0, 8), [0, 1 / 3, 2 / 3, 1, 1.25, 1.5, 1.75, 2]);
    assert.deepEqual(kinds(session), ['time-repeated spread']);
    assert.equal(session.problems[0].count, 6);
    assert.equal(session.time.spread, true);
  });

  test('a hole behind a coarse time does not stretch it', () => {
    const session = read(`Time (s),RPM\n${[0, 0, 1, 1, 2, 2, 60, 60, 61, 61].map((time) => `${time},800\n`).join('')}`);
    nearly([...session.timeS], [0, 0.5, 1, 1.5, 2, 2.5, 60, 60.5, 61, 61.5]);
    const gap = problem(session, 'time-gap', 'gap');
    assert.deepEqual(gap.range, { start: { line: 6, character: 0 }, end: { line: 7, character: 2 } });
    nearly(gap.timeS ?? [], [2.5, 60]);
  });

  test('a repeat of a fine clock is told and left', () => {
    const session = read(`Time (s),RPM\n${[0, 0.1, 0.2, 0.2, 0.3, 0.4, 0.5].map((time) => `${time},800\n`).join('')}`);
    nearly([...session.timeS], [0, 0.1, 0.2, 0.2, 0.3, 0.4, 0.5]);
    assert.deepEqual(problem(session, 'time-repeated', 'repeated').range, place(4, 0, 3));
  });

  test('a step back starts a recording that goes on', () => {
    const session = read(`Time (s),RPM\n${[5, 5.1, 5.2, 0, 0.1, 0.2].map((time) => `${time},800\n`).join('')}`);
    assert.deepEqual(session.recordingStarts, [0, 3]);
    nearly([...session.timeS], [0, 0.1, 0.2, 0.3, 0.4, 0.5]);
    const back = problem(session, 'time-reversed', 'step-back');
    assert.deepEqual(back.range, place(4, 0, 1));
    nearly([Number(back.data.fromS), Number(back.data.toS)], [5.2, 0]);
  });

  test('rows in backward order are told once', () => {
    const session = read(`Time (s),RPM\n${[0.5, 0.4, 0.3, 0.2, 0.1, 0].map((time) => `${time},800\n`).join('')}`);
    assert.deepEqual(
      session.problems.map(({ code, kind, data }) => [code, kind, data]),
      [['time-reversed', 'backward', { rows: 6, steps: 5 }]],
    );
  });

  test('signs and blanks between thousands, where a number can be no other', () => {
    const values = (text: string): (number | undefined)[] => [
      ...read(`Time (s);RPM;Lambda\n0,1;${text};1,000\n1.002,5;800;0,950\n`).channels[0]!.values,
    ];
    // ISO 80000-1, 7.3.1: groups of three, parted by a blank; decimal sign a comma or a point.
    for (const [text, value] of [
      ['1.002,0', 1002],
      ['12.345,25', 12345.25],
      ['1.234.567,5', 1234567.5],
      ['-1.002,0', -1002],
      ['1,002.5', 1002.5],
      ['1 020', 1020],
      ['1\u00a0020,5', 1020.5],
      ['12\u202f345', 12345],
      ['1,002', 1.002],
    ] as const) {
      assert.deepEqual(values(text), [value, 800], text);
    }
    for (const text of ['1.02,0', '1.0021,0', '0.002,0', '1 20', '1 0205', '1.002,0,0', '1.002 003', '1..002,0', '01.002,0'])
      assert.deepEqual(values(text), [NaN, 800], text);
    nearly([...read('Time (s);RPM\n999,5;800\n1.000,5;810\n1.001,5;820\n').timeS], [0, 1, 2]);
  });

  test('a speed whose thousands have the sign that is not the decimal one', () => {
    // ISO 80000-1, 7.3.3: the decimal sign is one of both; the other, before groups of three, parts thousands (CLDR, de and en).
    const speeds = (text: string): number[] => [...read(text).channels.find(({ quantity }) => quantity === 'engine-speed')!.values];
    const rows = (time: readonly string[], rpm: readonly string[], lambda: string): string =>
      ['Time (s);RPM;Lambda', ...rpm.map((speed, at) => `${time[at]};${speed};${lambda}`)].join('\n');
    const german = rows(['0,0', '0,1', '0,2', '0,3'], ['0', '850', '2.746', '3.000'], '0,95');
    assert.deepEqual(speeds(german), [0, 850, 2746, 3000]);
    assert.equal(problem(read(german), 'value-not-a-number', 'thousands').data.value, 2746);
    assert.deepEqual(speeds(rows(['0.0', '0.1', '0.2', '0.3'], ['0', '850', '2,746', '3,000'], '0.95')), [0, 850, 2746, 3000]);
    // Nothing else shows the decimal sign, or shows it to be this one; a plain thousand; a fraction below one: decimals.
    assert.deepEqual(speeds(rows(['0', '1', '2', '3'], ['0', '850', '2.746', '3.000'], '1')), [0, 850, 2.746, 3]);
    assert.deepEqual(speeds(rows(['0.0', '0.1', '0.2', '0.3'], ['0', '850', '2.746', '3.000'], '0.95')), [0, 850, 2.746, 3]);
    assert.deepEqual(speeds(rows(['0,0', '0,1', '0,2'], ['850', '2.746', '3000'], '0,95')), [850, 2.746, 3000]);
    assert.deepEqual(speeds(rows(['0,0', '0,1', '0,2'], ['0.850', '2.746', '3.000'], '0,95')), [0.85, 2.746, 3]);
  });

  test('whole numbers are not looked up one by one for such a sign, and other columns not at all', () => {
    // SAE J1979, PID 0B: manifold pressure in whole kPa, most of it below a hundred.
    const kPa = Float64Array.from({ length: 1000 }, (_none, at) => 30 + (at % 71)),
      decimals = (): string[] => ['0,1', '0,95'];
    let asked = 0;
    const text = (sample: number): string => {
      asked++;
      return String(kPa[sample]);
    };
    assert.equal(
      withThousands('manifold-pressure', () => kPa, text, decimals),
      undefined,
    );
    assert.equal(
      withThousands(
        'manifold-pressure',
        () => kPa.map((value) => value + (value > 90 ? 0.5 : 0)),
        () => {
          asked++;
          return '91,5';
        },
        decimals,
      ),
      undefined,
    );
    assert.ok(asked <= 1, String(asked));
    assert.equal(
      withThousands(
        'throttle',
        () => assert.fail(),
        text,
        () => assert.fail(),
      ),
      undefined,
    );
  });

  test('no clock: rows at an assumed rate, said', () => {
    const session = read('RPM,Lambda\n800,1\n810,1\n');
    nearly([...session.timeS], [0, 0.1]);
    assert.equal(session.time.kind, 'assumed-rate');
    assert.equal(problem(session, 'channel-missing', 'no-time').data.stated, false);
  });

  test('missing clock readings lie between their neighbours', () => {
    nearly(times('Time (s)', '0', '', '0.2', '0.3', ''), [0, 0.1, 0.2, 0.3, 0.4]);
  });

  test('whole numbers in big steps without a unit are milliseconds, said', () => {
    const session = read('Time,RPM\n0,1\n50,1\n100,1\n150,1\n200,1\n');
    nearly([...session.timeS], [0, 0.05, 0.1, 0.15, 0.2]);
    assert.deepEqual(problem(session, 'unit-unknown', 'missing').data.assumed, ['ms']);
  });
});

suite('session reader: troubles', () => {
  test('texts in a column make one problem a run, placeholders one a file', () => {
    const session = read('Time (s),RPM,Lambda\n0,800,nan\n1,err,nan\n2,err,1\n3,900,-\n4,foo,1\n');
    const texts = session.problems.filter((each) => each.kind === 'text');
    assert.deepEqual(
      texts.map(({ count, range, timeS }) => [count, range, timeS]),
      [
        [2, { start: { line: 2, character: 2 }, end: { line: 3, character: 5 } }, [1, 2]],
        [1, place(5, 2, 5), [4, 4]],
      ],
    );
    const blank = problem(session, 'value-not-a-number', 'placeholder');
    assert.equal(blank.count, 3);
    assert.deepEqual(blank.data.texts, ['nan', '-']);
  });

  test('a number out of range', () => {
    const session = read('Time (s),RPM\n0,1e999\n1,800\n');
    nearly(values(session, 'engine-speed'), [NaN, 800]);
    assert.deepEqual(problem(session, 'value-not-a-number', 'not-finite').range, place(1, 2, 7));
  });

  test('a column of words of which nothing is known is no trouble', () => {
    assert.deepEqual(read('Time (s),RPM,Mode\n0,800,idle\n1,900,cruise\n').problems, []);
  });

  test('rows too short and too long, in runs', () => {
    const session = read('Time (s),RPM,Lambda\n0,800\n1,800\n2,800,1\n3,800,1,5\n4,800,1\n');
    const short = problem(session, 'row-ragged', 'too-few');
    assert.deepEqual([short.count, short.range], [2, { start: { line: 1, character: 0 }, end: { line: 2, character: 5 } }]);
    assert.deepEqual(problem(session, 'row-ragged', 'too-many').range, place(4, 0, 9));
    assert.equal(session.samples, 5);
  });

  test('many troubles stay a handful, the rest is counted', () => {
    const session = read(
      `Time (s),RPM,Lambda\n${Array.from({ length: 100 }, (_, row) => (row % 2 ? `${row},x,1\n` : `${row},800\n`)).join('')}`,
    );
    assert.ok(session.problems.length <= 10, String(session.problems.length));
    const short = session.problems.filter((each) => each.kind === 'too-few');
    assert.equal(
      short.reduce((sum, each) => sum + each.count + Number(each.data.moreCount ?? 0), 0),
      50,
    );
  });

  test('a last row cut off keeps its whole cells', () => {
    const session = read('Time (s),RPM,Lambda\n0,800,1\n1,810,1\n2,82');
    assert.equal(session.samples, 3);
    nearly(values(session, 'engine-speed'), [800, 810, NaN]);
    assert.deepEqual(problem(session, 'row-ragged', 'cut-off').range, place(3, 0, 4));
    assert.equal(session.problems.length, 1);
  });

  test('a last row cut off behind trailing delimiters, and within its first cell', () => {
    const trailing = read('Time (s),RPM\n0,800,\n1,810,\n2,82');
    nearly(values(trailing, 'engine-speed'), [800, 810, NaN]);
    const first = read('Time (s),RPM\n0,800\n1,810\n2');
    assert.equal(first.samples, 2);
    assert.equal(problem(first, 'row-ragged', 'cut-off').data.cells, 0);
  });

  test('an unclosed quote is literal and said', () => {
    const session = read('Time (s),RPM,Note\n0,800,"open\n1,810,x\n2,820,x\n');
    nearly(values(session, 'engine-speed'), [800, 810, 820]);
    assert.equal(problem(session, 'value-not-a-number', 'quote-unclosed').range.start.line, 1);
  });
});

suite('session reader: long form', () => {
  const LONG =
    'time (ms),channel,value,unit\n0,Engine speed,800,rpm\n0,Boost,0.5,bar\n100,Engine speed,810,rpm\n200,Boost,0.6,bar\n200,Fuel cut,on,\n200,DTC,P0171,\n300,Boost,bad,bar\n';
  test('readings become samples at the times there are, each at its cell', () => {
    const session = read(LONG);
    assert.equal(session.form, 'long');
    nearly([...session.timeS], [0, 0.1, 0.2, 0.3]);
    nearly(values(session, 'engine-speed'), [800, 810, NaN, NaN]);
    nearly(values(session, 'manifold-pressure'), [151.325, NaN, 161.325, NaN]);
    nearly(values(session, 'fuel-cut'), [NaN, NaN, 1, NaN]);
    const boost = channelOf(session, 'manifold-pressure');
    assert.deepEqual(session.places.cellRange(boost?.index ?? -1, 2), place(4, 10, 13));
    assert.equal(session.places.cellText(boost?.index ?? -1, 2), '0.6');
    assert.equal(session.places.sampleAt(4), 2);
    assert.equal(session.places.channelAt(4, 11), boost?.index);
    assert.deepEqual(
      session.codes.map(({ text, sample, line }) => [text, sample, line]),
      [['P0171', 2, 6]],
    );
    assert.deepEqual(problem(session, 'value-not-a-number', 'text').range, place(7, 10, 13));
    assert.equal(boost?.unitFrom, 'column');
  });

  test('channel after channel is put in the order of time', () => {
    const session = read('Time (s);Signal;Value\n0;RPM;800\n0,2;RPM;820\n0,1;Lambda;1,1\n0,2;Lambda;1,2\n');
    nearly([...session.timeS], [0, 0.1, 0.2]);
    nearly(values(session, 'engine-speed'), [800, NaN, 820]);
    nearly(values(session, 'lambda'), [NaN, 1.1, 1.2]);
    assert.deepEqual(session.recordingStarts, [0]);
    const [rpm, lambda] = [channelOf(session, 'engine-speed')!.index, channelOf(session, 'lambda')!.index];
    assert.deepEqual(
      [0, 1, 2].map((sample) => session.places.cellText(rpm, sample)),
      ['800', '', '820'],
    );
    assert.deepEqual(
      [0, 1, 2].map((sample) => session.places.cellText(lambda, sample)),
      ['', '1,1', '1,2'],
    );
    assert.deepEqual(session.places.cellRange(lambda, 2), place(4, 11, 14));
    assert.deepEqual(session.places.cellRange(rpm, 1), place(3, 0, 3), 'without a reading: the time that the sample has');
  });
});
