// Session files as people first bring them: gauge pressure without the word, thousands commas, clocks and channels in other languages,
// binary files.

import assert from 'node:assert/strict';
import { sessionFindings, tableFindings } from '../../server/src/findings/check.js';
import { pullColumns, sampleLog } from '../../server/src/findings/sampleLog.js';
import { readCandump } from '../../server/src/formats/can/readCandump.js';
import { readSession } from '../../server/src/formats/session/readSession.js';
import { readTable } from '../../server/src/formats/table/readTable.js';
import { channelOf, type Session } from '../../server/src/formats/session/session.js';
import { bytesSource, textSource } from '../../server/src/formats/source.js';
import { EMPTY_VEHICLE } from '../../server/src/formats/vehicle/vehicle.js';
import { analyse } from '../../server/src/signals/analyse.js';

const read = (text: string): Session => readSession(textSource(text));
const kinds = (session: Session): string[] => session.problems.map((problem) => `${problem.code} ${problem.kind}`);
const findings = (session: Session) => sessionFindings(analyse(session, EMPTY_VEHICLE));
const near = (actual: number | undefined, expected: number, tolerance = 1e-3): void =>
  assert.ok(Math.abs((actual ?? NaN) - expected) < tolerance, `${actual} is not ${expected}`);

suite('session reader: a gauge without the word', () => {
  const log = (unit: string, values: readonly number[]): Session =>
    read(`Time (s),RPM,MAP (${unit}),Lambda\n${values.map((value, row) => `${row / 10},2000,${value},1\n`).join('')}`);
  test('below zero in psi, kPa and bar is read from the air around the car, and told', () => {
    // 1 psi = 6.894757 kPa (exact by definition), standard atmosphere 101.325 kPa.
    for (const [unit, values, lowKPa] of [
      ['psi', [-10, -5, 0, 12], 101.325 - 68.94757],
      ['kPa', [-70, -30, 0, 80], 31.325],
      ['bar', [-0.7, -0.3, 0, 0.8], 31.325],
    ] as const) {
      const session = log(unit, values);
      near(channelOf(session, 'manifold-pressure')?.values[0], lowKPa);
      const found = findings(session).find(({ code, data }) => code === 'unit-unknown' && data?.kind === 'below-zero');
      assert.equal(found?.severity, 'warning');
      assert.ok(found.message.includes(`write "(${unit} gauge)"`), found.message);
    }
  });
  test('a plain absolute log, one fault value and a unit said to be absolute stay as they are', () => {
    for (const session of [log('kPa', [30, 100, 0, 60]), log('kPa', [30, -40, -40, 60]), log('psi abs', [-10, -5, 0, 12])])
      assert.ok(!kinds(session).includes('unit-unknown below-zero'));
  });
  test('numbers of another unit are told with the range that they would have', () => {
    // A pull of 45 to 170 kPa written in psi gauge under a header that says absolute psi in so many words.
    const columns = pullColumns();
    const pressure = columns['manifold pressure (kPa)'];
    const text = sampleLog(12, 0.1, {
      ...columns,
      'manifold pressure (kPa)': () => undefined,
      'MAP (psi abs)': (t) => (pressure(t) - 101.325) / 6.894757,
    }).replace('manifold pressure (kPa)', 'spare');
    const found = findings(read(text)).find(({ code, data }) => code === 'value-implausible' && data?.kind === 'unit');
    const range = /look like psi gauge \((\d+) to (\d+) kPa\)/.exec(found?.message ?? '');
    assert.ok(range, found?.message ?? 'no finding');
    near(Number(range[1]), 45, 2.5);
    near(Number(range[2]), 170, 2.5);
  });
});

suite('session reader: names in other languages', () => {
  test('a column in a unit of time that only rises is the clock, as a guess that is told', () => {
    const session = read(
      'Uhr des Geräts (s),Drehzahl (1/min),Saugrohrdruck (kPa),Lambda\n0,900,35,1\n0.1,905,35,1\n0.2,910,35,1\n0.3,910,35,1\n',
    );
    assert.equal(session.time.kind, 'column');
    near(session.timeS[3], 0.3);
    assert.ok(findings(session).some(({ message }) => /"Uhr des Geräts" is taken for time, the clock of this session/.test(message)));
    assert.deepEqual(read('Dauer (ms),RPM,Lambda\n3,900,1\n2.9,905,1\n3.1,900,1\n3.2,900,1\n').time.kind, 'assumed-rate');
  });
  test('dictionary words, with and without accents', () => {
    for (const [header, quantity] of [
      ['Drehzahl (1/min)', 'engine-speed'],
      ['régime moteur (tr/min)', 'engine-speed'],
      ['Saugrohrdruck (mbar)', 'manifold-pressure'],
      ['Drosselklappe (%)', 'throttle'],
      ['Kühlmitteltemperatur (°C)', 'coolant-temperature'],
      ['Kuehlmitteltemperatur (°C)', 'coolant-temperature'],
      ['Température du liquide de refroidissement (°C)', 'coolant-temperature'],
      ['Presión de admisión (kPa)', 'manifold-pressure'],
      ['Posizione farfalla (%)', 'throttle'],
      ['Rotação do motor (rpm)', 'engine-speed'],
      ['Varvtal (varv/min)', 'engine-speed'],
      ['Tensão da bateria (V)', 'battery-voltage'],
      ['Zeit (s)', 'time'],
    ] as const) {
      const session = read(
        `${quantity === 'time' ? '' : 'Time (s),'}${header}\n${quantity === 'time' ? '0\n1\n2\n3\n' : '0,50\n1,51\n2,52\n'}`,
      );
      if (quantity === 'time') {
        assert.equal(session.time.kind, 'column', header);
        assert.ok(kinds(session).includes('channel-missing name-guessed'));
      } else assert.ok(channelOf(session, quantity), header);
    }
  });
  test('trims, targets, knock, duty and gear in seven languages, each on the bank it names', () => {
    for (const [header, quantity] of [
      ['Brandstofcorrectie korte termijn (%)', 'short-term-fuel-trim'],
      ['Mengselcorrectie lang bank 2 (%)', 'long-term-fuel-trim-2'],
      ['Gewenste lambda', 'target-lambda'],
      ['Lambda gemeten', 'lambda'],
      ['Ontstekingstijdstip (°)', 'ignition-advance'],
      ['Koelwatertemperatuur (°C)', 'coolant-temperature'],
      ['Gasklepstand (%)', 'throttle'],
      ['Inlaatdruk (kPa)', 'manifold-pressure'],
      ['Versnelling (g)', undefined],
      ['Bränslekorrektion kort bank 2 (%)', 'short-term-fuel-trim-2'],
      ['Önskat lambda', 'target-lambda'],
      ['Insugstryck (kPa)', 'manifold-pressure'],
      ['Insugsluftens temperatur (°C)', 'intake-air-temperature'],
      ['Kylvattentemperatur (°C)', 'coolant-temperature'],
      ['Gasspjäll (%)', 'throttle'],
      ['Tändläge (°)', 'ignition-advance'],
      ['Bränsletryck (bar)', 'fuel-pressure'],
      ['Växel', 'gear'],
      ['Kraftstoffkorrektur kurz (%)', 'short-term-fuel-trim'],
      ['Kraftstoffkorrektur lang (%)', 'long-term-fuel-trim'],
      ['Kurzzeit-Gemischkorrektur Bank 2 (%)', 'short-term-fuel-trim-2'],
      ['Langzeitkorrektur [%]', 'long-term-fuel-trim'],
      ['Correction court terme (%)', 'short-term-fuel-trim'],
      ['Correction de richesse à long terme (%)', 'long-term-fuel-trim'],
      ['Ajuste de combustible a corto plazo banco 2 (%)', 'short-term-fuel-trim-2'],
      ['Corrección combustible largo plazo (%)', 'long-term-fuel-trim'],
      ['Correzione carburante a breve termine (%)', 'short-term-fuel-trim'],
      ['Correzione miscela lungo termine (%)', 'long-term-fuel-trim'],
      ['Ajuste de combustível a longo prazo (%)', 'long-term-fuel-trim'],
      ['Lambda Soll', 'target-lambda'],
      ['Lambda cible', 'target-lambda'],
      ['Lambda objetivo', 'target-lambda'],
      ['Lambda obiettivo', 'target-lambda'],
      ['Lambdawert', 'lambda'],
      ['Lambda mesuré', 'lambda'],
      ['Lambda Ist Bank 2', 'lambda-2'],
      ['Einspritzventil Tastverhältnis (%)', 'injector-duty'],
      ['Rapport cyclique injecteurs (%)', 'injector-duty'],
      ['Klopfrücknahme (°)', 'knock-retard'],
      ["Retrait d'avance cliquetis (°)", 'knock-retard'],
      ['Gang', 'gear'],
      ['Rapport engagé', 'gear'],
      ['Ethanolgehalt (%)', 'ethanol-content'],
      ['Schubabschaltung', 'fuel-cut'],
      ['Codice errore', 'trouble-code'],
      // No word for how long: it may be either, or none.
      ['Korrektur (%)', undefined],
      ['Adaptation (%)', undefined],
      ['Zündkorrektur kurz (%)', undefined],
      ['Correction allumage (°)', undefined],
    ] as const) {
      const [, channel = undefined] = read(`Time (s),RPM,${header}\n0,900,1\n1,901,2\n2,902,1\n`).channels;
      assert.equal(channel?.quantity, quantity, header);
    }
    // French richness is fuel over air, lambda's inverse.
    near(read('Temps (s),Régime moteur (tr/min),Richesse\n0,900,1.25\n1,901,1.25\n').channels[1].values[0], 0.8);
  });
  test('lambda without engine speed is a warning', () => {
    const found = findings(read('Time (s),Lambda\n0,1\n0.1,1\n0.2,1\n')).find(({ data }) => data?.kind === 'no-engine-speed');
    assert.equal(found?.severity, 'warning');
    assert.match(found?.message ?? '', /nothing under load can be judged/);
  });
});

suite('session reader: rows written again', () => {
  const told = (text: string): string =>
    findings(read(`Time (s),RPM,MAP (kPa),Lambda\n${text}`)).find(({ code }) => code === 'time-repeated')?.message ?? '';
  const row = (timeS: number, rpm: number): string => `${timeS},${rpm},35,1.0\n`;
  test('copies of the row before are told as copies, a coarse clock as coarse', () => {
    const stamps = Array.from({ length: 40 }, (_, at) => at / 10);
    assert.match(
      told(stamps.map((timeS, at) => row(timeS, 800 + at).repeat(3)).join('')),
      /^80 of 120 rows are copies of the row before, time and readings alike/,
    );
    assert.match(
      told(stamps.map((timeS, at) => row(timeS, 800 + at) + row(timeS, 801 + at) + row(timeS, 802 + at)).join('')),
      /^The clock is too coarse for the rows: 80 of 120/,
    );
    assert.match(
      told(stamps.map((timeS, at) => row(timeS, 800 + at) + (at === 20 ? row(timeS, 850) : '')).join('')),
      /Readings were doubled or the clock stood still/,
    );
    assert.match(
      told(stamps.map((timeS, at) => row(timeS, 800 + at).repeat(at === 20 ? 2 : 1)).join('')),
      /They are copies of it: readings were written twice/,
    );
  });
});

suite('session reader: binary files', () => {
  test('one finding for a file that is no text', () => {
    // Bytes of a multiplicative generator (Park and Miller, CACM 1988), as even as compressed data.
    let state = 20261124;
    const bytes = Uint8Array.from({ length: 5000 }, () => {
      state = (state * 16807) % 2147483647;
      return state & 255;
    }).map((byte, at) => (at < 40 && byte === 0 ? 1 : byte));
    for (const file of [bytes, bytes.map((byte) => (byte === 0 ? 1 : byte))]) {
      const session = readSession(bytesSource(file));
      assert.deepEqual(
        findings(session).map(({ code, severity }) => `${code} ${severity}`),
        ['channel-missing error'],
      );
    }
  });
  test('a text with zeros behind its end is still a text', () => {
    const session = read(`Time (s),RPM\n0,900\n0.1,905\n${'\0'.repeat(600)}`);
    assert.ok(!kinds(session).includes('channel-missing binary'));
  });
});

suite('session reader: commas between thousands', () => {
  const log = (rpm: readonly string[], lambda: string): Session =>
    read(`Time (s),RPM,Lambda\n${rpm.map((each, row) => `${row / 10},"${each}",${lambda}\n`).join('')}`);
  test('read where every such cell fits and the file has decimal points, and told once', () => {
    const session = log(['950', '1,005', '2,028', '12,345.5'], '0.98');
    assert.deepEqual([...channelOf(session, 'engine-speed')!.values], [950, 1005, 2028, 12345.5]);
    assert.deepEqual(kinds(session), ['value-not-a-number thousands']);
    const told = findings(session).filter(({ code }) => code === 'value-not-a-number');
    assert.equal(told.length, 1);
    assert.equal(told[0].severity, 'information');
    assert.match(told[0].message, /^3 cells .*"1,005" is read as 1005/);
  });
  test('a decimal comma among them leaves them no numbers, and says why', () => {
    for (const rpm of [
      ['1,005', '0,850', '2,028'],
      ['1,005', '1,5', '2,028'],
    ]) {
      const session = log(rpm, '0.98');
      assert.equal(channelOf(session, 'engine-speed')?.filled, 0);
      const told = findings(session).find(({ code }) => code === 'value-not-a-number');
      assert.match(told?.message ?? '', /decimal comma or one between thousands/);
      assert.doesNotMatch(told?.message ?? '', /wiring/);
    }
  });
  test('one cell with a decimal comma makes no decimals of them: 1,005 rpm became 1.005', () => {
    const session = read('Time (s),RPM,Banks\n0,"1,005",1\n1,"1,850","1,2"\n2,"2,028",1\n');
    assert.equal(channelOf(session, 'engine-speed')?.filled, 0);
    assert.ok(kinds(session).includes('value-not-a-number comma'));
  });
  test('without a decimal point anywhere it cannot be told', () => {
    const session = read('Time (s),Lambda\n0,"1,005"\n1,"1,012"\n2,"1,020"\n');
    assert.equal(channelOf(session, 'lambda')?.filled, 0);
    assert.ok(kinds(session).includes('value-not-a-number comma'));
  });
});

// A gate that goes by errors must not let a log through of which nothing was judged.
suite('session reader: a file that cannot be read right', () => {
  const severities = (text: string, code: string): string[] =>
    findings(read(text))
      .filter((each) => each.code === code)
      .map(({ severity, channel }) => `${severity} ${channel ?? ''}`);
  test('is an error where no cell of what engines are judged by is a number, and a warning where one is not', () => {
    const log = (speed: (row: number) => string): string =>
      `Time (s),Engine speed,Lambda\n${Array.from({ length: 30 }, (_none, row) => `${row / 10},${speed(row)},0.98\n`).join('')}`;
    assert.deepEqual(
      severities(
        log((row) => `${900 + row} rpm`),
        'value-not-a-number',
      ),
      ['error engine-speed'],
    );
    assert.deepEqual(
      severities(
        log((row) => (row === 7 ? 'err' : String(900 + row))),
        'value-not-a-number',
      ),
      ['warning engine-speed'],
    );
  });
  test('says one in the singular and several in the plural', () => {
    const message = (session: Session): string => findings(session).find(({ code }) => /row-ragged|channel-missing/.test(code))!.message;
    const long = `1,${'9'.repeat(5 << 20)}\n`,
      frame = '(1.0) can0 123#00\n';
    const log = (middle: string): Session => read(`Time (s),RPM,MAP (kPa),Lambda\n0,900,35,1\n${middle}2,900,35,1\n`);
    assert.match(message(log(long)), /^A line of several megabytes is .* It is left out/);
    assert.match(message(log(long + long)), /^2 lines of several megabytes are .* They are left out/);
    assert.match(message(readCandump(textSource(frame))), /^The one frame of this capture holds no/);
    assert.match(message(readCandump(textSource(frame + frame.replace('1.0', '1.1')))), /^The 2 frames of this capture hold no/);
  });
  test('is an error where nothing of its head is known; a log of something else is none', () => {
    const rows = (sign: string): string => `Time${sign}RPM${sign}Lambda\n${`1${sign}900${sign}0.98\n`.repeat(9)}`;
    assert.ok(severities(rows('|'), 'channel-missing').some((each) => each.startsWith('error')));
    assert.ok(severities('Time (s),EGT (°C)\n0,500\n1,510\n', 'channel-missing').every((each) => !each.startsWith('error')));
  });
});

suite('table reader: swapped axes', () => {
  const table = (columns: string, rows: string): string =>
    `# quantity: volumetric efficiency (%)\n# columns: ${columns}\n# rows: ${rows}\n,800,1200,1600\n30,42,44,47\n60,50,52,54\n100,60,62,64\n`;
  test('a speed axis of 30 to 100 beside a pressure axis of 800 to 1600 is told once', () => {
    const { problems } = readTable(table('manifold pressure (kPa)', 'engine speed (rpm)'));
    assert.deepEqual(
      problems.map(({ code, kind }) => `${code} ${kind}`),
      ['value-implausible axes-swapped'],
    );
    const [found] = tableFindings({
      table: readTable(table('manifold pressure (kPa)', 'engine speed (rpm)')),
      vehicle: undefined,
      evidence: undefined,
    }).filter(({ code }) => code === 'value-implausible');
    assert.match(found.message, /axes look swapped: the first row goes from 800 to 1600 as manifold pressure/);
  });
  test('the right way round, and a single slip on one axis, are not', () => {
    assert.deepEqual(readTable(table('engine speed (rpm)', 'manifold pressure (kPa)')).problems, []);
    assert.deepEqual(
      readTable(table('engine speed (rpm)', 'manifold pressure (kPa)').replace('\n100,', '\n1000,')).problems.map(({ kind }) => kind),
      ['breakpoint'],
    );
  });
});
