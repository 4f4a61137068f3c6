// Conversions against standards (NIST SP 811, definitions), worked examples, and two general-purpose unit libraries.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import Qty from 'js-quantities';
import { unit as mathUnit } from 'mathjs';
import {
  convertUnit,
  fits,
  fromCanonical,
  meanLambda,
  relatedValues,
  STANDARD_CONTEXT,
  toCanonical,
} from '../../server/src/quantities/convert.js';
import { convertText } from '../../server/src/quantities/convertText.js';
import { formatNumber, formatValue } from '../../server/src/quantities/format.js';
import { fuelOf } from '../../server/src/quantities/fuels.js';
import { parseUnit } from '../../server/src/quantities/parseUnit.js';
import { QUANTITIES, QUANTITY_IDS } from '../../server/src/quantities/quantity.js';
import { UNITS, type ConversionContext } from '../../server/src/quantities/units.js';

const spelled = (text: string) => {
  const unit = parseUnit(text);
  assert.ok(unit, text);
  return unit;
};
const convert = (value: number, from: string, to: string, context: ConversionContext = STANDARD_CONTEXT): number =>
  convertUnit(spelled(from), spelled(to), context)(value);
const near = (actual: number, expected: number, tolerance: number, what = ''): void =>
  assert.ok(Math.abs(actual - expected) <= tolerance, `${what} ${actual}, expected ${expected} ± ${tolerance}`);
const at = (barometerKPa: number): ConversionContext => ({ ...STANDARD_CONTEXT, barometerKPa });

suite('convert', () => {
  // λ = AFR / AFRst, φ = 1/λ (Heywood 1988 ch. 3, from memory), worked apart.
  for (const [afr, stoichAfr, lambda, phi] of [
    [14.7, 14.7, 1, 1],
    [12.5, 14.7, 0.85034, 1.176],
    [11.8, 14.7, 0.80272, 1.24576],
    [16.2, 14.7, 1.10204, 0.90741],
    [7.2, 9, 0.8, 1.25],
    [5.5, 6.45, 0.85271, 1.17273],
  ]) {
    test(`AFR ${afr} on a scale of ${stoichAfr}`, () => {
      const context = { barometerKPa: 100, stoichAfr };
      near(convert(afr, 'AFR', 'lambda', context), lambda, 0.00001);
      near(convert(afr, 'AFR', 'phi', context), phi, 0.00001);
    });
  }
  for (const [lambda, stoichAfr, afr] of [
    [0.85, 14.7, 12.495],
    [0.78, 14.7, 11.466],
    [1.05, 14.7, 15.435],
    [0.85, 9, 7.65],
    [0.8, 14.64, 11.712],
    [0.95, 14.64, 13.908],
  ]) {
    test(`λ ${lambda} as AFR of ${stoichAfr}`, () => near(convert(lambda, 'λ', 'AFR', { barometerKPa: 100, stoichAfr }), afr, 0.0001));
  }
  // A display on the gasoline scale while the engine burns E85, worked with 9.8097; the chemistry's E85 is 0.002 above.
  for (const [shown, lambda, trueAfr] of [
    [12.5, 0.85034, 8.3416],
    [14.7, 1, 9.8097],
    [10.9, 0.7415, 7.2739],
  ]) {
    test(`${shown} on a gasoline display with E85 in the tank`, () => {
      const values = relatedValues(shown, UNITS.afr, STANDARD_CONTEXT, fuelOf('E85'));
      near(values.find(({ unit }) => unit.id === 'lambda')!.value, lambda, 0.0005);
      near(values.find(({ unit }) => unit.fuel === 'E85')!.value, trueAfr, 0.004);
      near(values.find(({ unit }) => unit.fuel === 'gasoline')!.value, shown, 1e-12);
    });
  }
  test('the mistakes to catch: an AFR on the wrong scale', () => {
    near(convert(12.5, 'AFR E85', 'lambda'), 1.2742, 0.0008);
    near(convert(8.31, 'AFR gasoline', 'lambda'), 0.5653, 0.0005);
  });
  test('mean of λ 0.85 and 1.05 is 0.93947: fuel adds, so φ averages', () => {
    near(meanLambda([0.85, 1.05]), 0.93947, 0.00001);
    assert.ok(Number.isNaN(meanLambda([])));
  });

  // Factors: NIST SP 811 App. B and definitions.
  for (const [from, to, factor, tolerance] of [
    ['psi', 'kPa', 6.894757293168, 1e-6],
    ['bar', 'kPa', 100, 0],
    ['mbar', 'kPa', 0.1, 0],
    ['hPa', 'kPa', 0.1, 0],
    ['kgf/cm2', 'kPa', 98.0665, 0],
    ['inHg', 'kPa', 3.386389, 1e-6],
    ['mmHg', 'kPa', 0.1333224, 1e-7],
    ['mph', 'km/h', 1.609344, 1e-12],
    ['mph', 'm/s', 0.44704, 1e-12],
    ['lb/min', 'g/s', 7.559872833333, 1e-9],
    ['lb/h', 'kg/h', 0.45359237, 1e-9],
    ['kg/h', 'g/s', 0.277777777778, 1e-9],
  ] as const)
    test(`1 ${from} = ${factor} ${to}`, () => near(convert(1, from, to), factor, tolerance));

  // Worked conversions, derived from the definitions.
  for (const [value, from, to, expected, tolerance] of [
    [14.7, 'psi', 'kPa', 101.3529, 0.001],
    [43.5, 'psi', 'kPa', 299.9219, 0.001],
    [101.325, 'kPa', 'psi', 14.69595, 0.00001],
    [1, 'bar', 'psi', 14.50377, 0.00001],
    [3, 'bar', 'kPa', 300, 0],
    [29.92, 'inHg', 'kPa', 101.3208, 0.0005],
    [101.325, 'kPa', 'inHg', 29.9213, 0.0001],
    [1013.25, 'mbar', 'kPa', 101.325, 1e-12],
    [212, '°F', '°C', 100, 0.0001],
    [32, '°F', '°C', 0, 0.0001],
    [-40, '°F', '°C', -40, 0.0001],
    [180, '°F', '°C', 82.2222, 0.0001],
    [98.6, '°F', '°C', 37, 0.0001],
    [90, '°C', '°F', 194, 1e-9],
    [-18, '°C', '°F', -0.4, 1e-9],
    [25, '°C', 'K', 298.15, 1e-12],
    [-40, '°C', 'K', 233.15, 1e-12],
    [300, 'K', '°F', 80.33, 0.01],
    [60, 'mph', 'km/h', 96.56064, 0.00001],
    [100, 'km/h', 'm/s', 27.777778, 0.000001],
    [30, 'lb/min', 'g/s', 226.7962, 0.0001],
    [400, 'kg/h', 'g/s', 111.1111, 0.0001],
    [100, 'g/s', 'lb/min', 13.22774, 0.00001],
    [6.25, 'krpm', 'rpm', 6250, 0],
    [50, 'Hz', 'rpm', 3000, 0],
    [2350, 'us', 'ms', 2.35, 1e-12],
  ] as const)
    test(`${value} ${from} = ${expected} ${to}`, () => near(convert(value, from, to), expected, tolerance));

  test('gauge and vacuum count from the air around the car', () => {
    near(convert(14.5, 'psi gauge', 'kPa', at(101.325)), 201.299, 0.001);
    near(convert(14.5, 'psi gauge', 'kPa', at(84)), 183.974, 0.001);
    near(convert(190, 'kPa', 'psi gauge', at(98)), 13.3435, 0.001);
    near(convert(190, 'kPa', 'kPa gauge', at(98)), 92, 1e-9);
    near(convert(18, 'inHg vacuum', 'kPa', at(101.325)), 40.37, 0.001);
    near(convert(12, 'inHg vacuum', 'kPa', at(100)), 59.363, 0.001);
    near(convert(9, 'psi boost', 'kPa', at(100)), 162.053, 0.001);
  });
  test('fuel pressure is gauge as written, unless it says absolute (common practice, no source)', () => {
    const written = (text: string) => toCanonical('fuel-pressure', spelled(text), at(100));
    near(written('kPa')(300), 300, 0);
    near(written('psi')(43.5), 299.9219, 0.001);
    near(written('psig')(43.5), 299.9219, 0.001);
    near(written('kPa abs')(400), 300, 0);
    near(toCanonical('manifold-pressure', spelled('kPa'), at(100))(300), 300, 0);
  });
  test('a signal in Hz stays as it is, a speed in Hz does not', () => {
    assert.equal(toCanonical('mass-air-flow-signal', UNITS.Hz, STANDARD_CONTEXT)(4200), 4200);
    assert.equal(toCanonical('engine-speed', UNITS.Hz, STANDARD_CONTEXT)(50), 3000);
    assert.equal(toCanonical('mass-air-flow-signal', UNITS.mV, STANDARD_CONTEXT)(2500), 2.5);
  });
  test('a unit of another dimension gives no number', () => {
    assert.ok(Number.isNaN(toCanonical('lambda', UNITS.V, STANDARD_CONTEXT)(1)));
    assert.equal(fits('lambda', UNITS.V), false);
    assert.ok(Number.isNaN(convert(1, 'kPa', 'rpm')));
  });
  test('φ of 0 has no λ', () => assert.ok(Number.isNaN(convert(0, 'phi', 'lambda'))));

  const judged = fc.integer({ min: -1_000_000, max: 1_000_000 }).map((thousandths) => thousandths / 1000);
  // js-quantities names; its psi and hence its limit is good to 5e-7.
  const JS_QUANTITIES: [string, string, string, string][] = [
    ['psi', 'kPa', 'psi', 'kPa'],
    ['bar', 'psi', 'bar', 'psi'],
    ['inHg', 'kPa', 'inHg', 'kPa'],
    ['°F', '°C', 'tempF', 'tempC'],
    ['K', '°F', 'tempK', 'tempF'],
    ['mph', 'km/h', 'mph', 'kph'],
    ['lb/min', 'g/s', 'lb/min', 'g/s'],
    ['kg/h', 'lb/h', 'kg/h', 'lb/h'],
    ['us', 'ms', 'us', 'ms'],
  ];
  for (const [from, to, theirs, theirTo] of JS_QUANTITIES) {
    test(`${from} to ${to} as js-quantities has it`, () => {
      fc.assert(
        fc.property(
          judged.map((value) => (theirs.startsWith('temp') ? Math.abs(value) : value)),
          (value) => {
            const expected = Qty(value, theirs).to(theirTo).scalar;
            near(convert(value, from, to), expected, Math.abs(expected) * 1e-6 + 1e-9);
          },
        ),
      );
    });
  }
  const MATHJS: [string, string, string, string][] = [
    ['psi', 'kPa', 'psi', 'kPa'],
    ['bar', 'psi', 'bar', 'psi'],
    ['°F', '°C', 'degF', 'degC'],
    ['K', '°C', 'K', 'degC'],
    ['mph', 'm/s', 'mi/h', 'm/s'],
    ['lb/min', 'kg/h', 'lbm/minute', 'kg/hour'],
  ];
  for (const [from, to, theirs, theirTo] of MATHJS) {
    test(`${from} to ${to} as mathjs has it`, () => {
      fc.assert(
        fc.property(judged, (value) => {
          const expected = mathUnit(value, theirs).toNumber(theirTo);
          near(convert(value, from, to), expected, Math.abs(expected) * 1e-9 + 1e-7);
        }),
      );
    });
  }

  test('there and back is where it began, for every unit of every quantity', () => {
    for (const quantity of QUANTITY_IDS)
      for (const unit of Object.values(UNITS)) {
        if (!unit.dimensions.includes(QUANTITIES[quantity].dimension)) continue;
        const there = toCanonical(quantity, unit, STANDARD_CONTEXT),
          back = fromCanonical(quantity, unit, STANDARD_CONTEXT);
        fc.assert(
          fc.property(fc.double({ min: 0.1, max: 1000, noNaN: true }), (value) =>
            near(back(there(value)), value, 1e-9 * Math.max(1, value), `${quantity} ${unit.id}`),
          ),
          { numRuns: 20 },
        );
      }
  });
  test('AFR → λ → φ → λ → AFR', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.5, max: 40, noNaN: true }), fc.constantFrom('AFR', 'AFR E85', 'AFR methanol'), (afr, scale) => {
        const lambda = convert(convert(convert(afr, scale, 'λ'), 'λ', 'φ'), 'φ', 'λ');
        near(convert(lambda, 'λ', scale), afr, afr * 1e-12);
      }),
    );
  });
});

suite('related values and their words', () => {
  const words = (value: number, unit: string, fuel?: string): string[] =>
    relatedValues(value, spelled(unit), at(100), fuel ? fuelOf(fuel) : undefined).map((each) => formatValue(each.value, each.unit));
  test('lambda in every scale', () =>
    assert.deepEqual(words(0.85, 'λ', 'E85'), ['λ 0.85', '8.34 AFR (E85)', '12.49 AFR (gasoline scale)', 'φ 1.18']));
  test('gasoline is shown once', () => assert.deepEqual(words(1, 'λ', 'gasoline'), ['λ 1.00', '14.70 AFR (gasoline scale)', 'φ 1.00']));
  test("a ratio of one's own", () => {
    const values = relatedValues(1, UNITS.lambda, at(100), { name: 'fuel of 14.1 : 1', stoichAfr: 14.1 });
    assert.equal(values[1].value, 14.1);
  });
  test('pressure, absolute and gauge', () =>
    assert.deepEqual(words(190, 'kPa'), [
      '190 kPa',
      '1.90 bar',
      '27.6 psi',
      '56.1 inHg',
      '90 kPa gauge',
      '0.90 bar gauge',
      '13.1 psi gauge',
    ]));
  test('below the air around there is a vacuum', () => assert.ok(words(40, 'kPa').includes('17.7 inHg vacuum')));
  test('numbers for messages', () => {
    assert.equal(formatNumber(-0.001, 1), '0.0');
    assert.equal(formatNumber(NaN, 1), '—');
    assert.equal(formatNumber(85.04, UNITS['%']), '85.0');
    assert.equal(formatValue(12, UNITS.deg), '12.0°');
  });
});

suite('convertText', () => {
  const values = (answer: ReturnType<typeof convertText>): Record<string, number> => {
    assert.ok(answer.ok, JSON.stringify(answer));
    return Object.fromEntries(answer.values.map(({ unit, value }) => [unit.symbol, value]));
  };
  test('lambda with a fuel', () => {
    const all = values(convertText({ value: '0.85', unit: 'lambda', fuel: 'E85' }));
    near(all['AFR (E85)'], 8.34, 0.01);
    near(all['AFR (gasoline scale)'], 12.495, 0.001);
  });
  test('AFR beside a fuel is of that fuel, and says so', () => {
    const answer = convertText({ value: '9,81', unit: 'AFR', fuel: 'E85' });
    near(values(answer)['λ'], 1, 0.001);
    assert.match(answer.ok ? answer.notes.join() : '', /AFR of E85.*AFR gasoline/);
  });
  test('AFR alone is on the gasoline scale, and says so', () => {
    const answer = convertText({ value: '14.7', unit: 'afr', to: 'lambda' });
    assert.deepEqual(values(answer), { λ: 1 });
    assert.match(answer.ok ? answer.notes.join() : '', /gasoline scale/);
  });
  test('gauge says what air it assumed', () => {
    const answer = convertText({ value: '14.5', unit: 'psi gauge', to: 'kPa' });
    near(values(answer).kPa, 201.299, 0.001);
    assert.match(answer.ok ? answer.notes.join() : '', /101\.3 kPa.*assumed/);
  });
  test('a leading zero or other than three digits make a comma a decimal one', () => {
    near(values(convertText({ value: '0,850', unit: 'lambda' }))['λ'], 0.85, 1e-12);
    near(values(convertText({ value: '6,5', unit: 'krpm', to: 'rpm' })).rpm, 6500, 1e-9);
  });
  test('injector flow by the density of the fuel', () => {
    // By hand: cc/min = lb/h × 453.59237 / 60 / density in g/cm³ (pound exact by definition); gasoline 0.745 g/cm³, EN 228 mid-range.
    const answer = convertText({ value: '650', unit: 'cc/min' });
    near(values(answer)['g/s'], 8.07083, 0.0001);
    near(values(answer)['lb/h'], 64.0553, 0.001);
    assert.match(answer.ok ? answer.notes.join() : '', /assumed: gasoline, 745 kg\/m³/);
    near(values(convertText({ value: '60', unit: 'lb/h', to: 'cc/min' }))['cc/min'], 608.849, 0.001);
    // E10 by volume: 0.1 × 794 + 0.9 × 745 = 749.9 kg/m³; 650 × 0.7499 / 60 = 8.12392 g/s.
    const blend = convertText({ value: '650', unit: 'cc/min', fuel: 'E10' });
    near(values(blend)['g/s'], 8.12392, 0.0001);
    assert.match(blend.ok ? blend.notes.join() : '', /E10, 750 kg/);
  });
  test('one clear line for what cannot be done', () => {
    for (const [request, error] of [
      [{ value: 'x', unit: 'kPa' }, /"x" is not a number/],
      [{ value: '1e999', unit: 'kPa' }, /not a number/],
      [{ value: '', unit: 'kPa' }, /not a number/],
      [{ value: '1e308', unit: 'psi' }, /too great/],
      [{ value: '1e308', unit: 'lb/h' }, /too great/],
      [{ value: '1e-310', unit: 'lambda' }, /no such value/],
      [{ value: '1', unit: 'furlong' }, /"furlong" is not known/],
      [{ value: '1', unit: 'kPa', to: 'rpm' }, /cannot be turned into rpm/],
      [{ value: '1', unit: 'AFR', fuel: 'soup' }, /fuel "soup" is not known/],
      [{ value: '0', unit: 'phi' }, /above 0/],
      [{ value: '0', unit: 'lambda' }, /above 0/],
      [{ value: '-3', unit: 'AFR' }, /above 0/],
      [{ value: '-300', unit: '°C' }, /absolute zero/],
      [{ value: '-460', unit: '°F' }, /absolute zero/],
      [{ value: '-1', unit: 'K' }, /absolute zero/],
      [{ value: '-5', unit: 'psi' }, /not below 0.*psi gauge/],
      [{ value: '-20', unit: 'psi gauge' }, /perfect vacuum/],
      [{ value: '6,500', unit: 'rpm' }, /write 6500 or 6\.5/],
      [{ value: '650', unit: 'cc/min', fuel: 'hydrogen' }, /density/],
    ] as const) {
      const answer = convertText(request);
      assert.ok(!answer.ok && error.test(answer.error) && !answer.error.includes('\n'), JSON.stringify(answer));
    }
  });
});
