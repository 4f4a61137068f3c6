// Spellings of units as headers have them. The list is common practice, no source; the point is which unit each one means.

import assert from 'node:assert/strict';
import fc from 'fast-check';
import { parseUnit, parseUnitOf } from '../../server/src/quantities/parseUnit.js';
import { QUANTITIES, QUANTITY_IDS, type QuantityId } from '../../server/src/quantities/quantity.js';
import { UNITS } from '../../server/src/quantities/units.js';

const SPELLED: Partial<Record<QuantityId, Record<string, string[]>>> = {
  'engine-speed': {
    rpm: ['rpm', 'RPM', ' r/min', '1/min', 'min-1', 'U/min', 'rev/min', '(rpm)', '[rpm]', 'min^-1', 'R.P.M.'],
    krpm: ['krpm', 'rpm x1000', 'RPM*1000'],
    Hz: ['Hz', 'rev/s'],
  },
  'manifold-pressure': {
    kPa: ['kPa', 'KPA', 'kpa', 'kPa abs', 'kPa(a)', 'kPaa', 'kPa absolute', 'kPa_abs'],
    'kPa-gauge': ['kPa gauge', 'kPag', 'kPa(g)', 'kPa (gauge)', 'kPa boost', 'boost kPa', 'kPa rel'],
    psi: ['psi', 'PSI', 'psia', 'psi abs', 'lb/in2', 'lb/in²', 'lbs/in²'],
    'psi-gauge': ['psig', 'psi gauge', 'psi (g)', 'boost psi', 'psi boost'],
    bar: ['bar', 'Bar', 'bara'],
    'bar-gauge': ['barg', 'bar gauge'],
    mbar: ['mbar', 'hPa', 'millibar'],
    inHg: ['inHg', 'in Hg', 'in. Hg', '"Hg', 'in-Hg'],
    'inHg-vacuum': ['inHg vacuum', 'inHg vac', 'in Hg (vacuum)'],
    mmHg: ['mmHg', 'torr'],
    MPa: ['MPa', 'mpa'],
    'kgf/cm2': ['kgf/cm2', 'kg/cm²'],
  },
  'coolant-temperature': {
    degC: ['°C', 'C', 'degC', 'deg C', 'deg. C', 'celsius', '℃', 'ºC', 'Â°C', '\ufffdC', '?C', 'degrees C'],
    degF: ['°F', 'F', 'deg F', 'Fahrenheit', '℉'],
    K: ['K', 'Kelvin', '°K'],
  },
  throttle: { '%': ['%', 'percent', 'pct', '% open', '％'], fraction: ['fraction', '0-1'] },
  lambda: {
    lambda: ['λ', 'lambda', 'Lambda', 'LAMBDA', 'Λ', 'Î»'],
    afr: [
      'AFR',
      'afr',
      'A/F',
      'AFR:1',
      'air/fuel ratio',
      'AFR (gasoline)',
      'AFR E85',
      'E85 AFR',
      'AFR (methanol)',
      'AFR-E10',
      'AFR gas',
      'AFR 14.7',
    ],
    phi: ['φ', 'phi', 'Φ', 'PHI'],
  },
  'ignition-advance': { deg: ['deg', '°', 'degrees', '°BTDC', 'deg BTDC', '°CA', 'º', '\ufffd', '° crank', 'btdc'] },
  'mass-air-flow': {
    'g/s': ['g/s', 'gps', 'g/sec', 'grams/sec', 'gm/s'],
    'kg/h': ['kg/h', 'kg/hr', 'kgh'],
    'lb/min': ['lb/min', 'lbs/min', 'LB/MIN'],
    'lb/h': ['lb/h', 'lb/hr', 'pph'],
  },
  'mass-air-flow-signal': { V: ['V', 'volts'], mV: ['mV'], Hz: ['Hz', 'hz'] },
  'vehicle-speed': { 'km/h': ['km/h', 'kph', 'kmh', 'KPH', 'km/hr'], mph: ['mph', 'MPH', 'mi/h'], 'm/s': ['m/s'] },
  'injector-pulse-width': { ms: ['ms', 'msec', 'milliseconds', 'mS'], us: ['us', 'µs', 'μs', 'usec'] },
  time: { s: ['s', 'sec', 'secs', 'seconds', 'S'], ms: ['ms', 'msec'], us: ['µs'], min: ['min', 'minutes'], h: ['h', 'hr'] },
  'battery-voltage': { V: ['V', 'volts', 'Volts', 'VDC'], mV: ['mV', 'millivolts'] },
};

suite('parseUnit', () => {
  for (const [quantity, units] of Object.entries(SPELLED)) {
    for (const [id, texts] of Object.entries(units)) {
      test(`${quantity}: ${id}`, () => {
        for (const text of texts) assert.equal(parseUnit(text, quantity as QuantityId)?.id, id, text);
      });
    }
  }
  test('what a pressure is counted from', () => {
    for (const [text, reference] of [
      ['kPa', undefined],
      ['kPa abs', 'absolute'],
      ['psia', 'absolute'],
      ['psig', 'gauge'],
      ['MPa gauge', 'gauge'],
      ['inHg vacuum', 'vacuum'],
      ['mmHg vac', 'vacuum'],
    ] as const) {
      assert.equal(parseUnit(text)?.reference, reference, text);
    }
  });
  test('whose scale an AFR is on', () => {
    for (const [text, fuel] of [
      ['AFR', undefined],
      ['AFR E85', 'E85'],
      ['AFR (e10)', 'E10'],
      ['AFR gasoline', 'gasoline'],
      ['AFR petrol', 'gasoline'],
      ['AFR methanol', 'methanol'],
      ['AFR gasoline scale', 'gasoline'],
    ] as const) {
      assert.equal(parseUnit(text)?.fuel, fuel, text);
    }
    assert.equal(parseUnit('AFR lemonade'), undefined);
  });
  test('a word without a scale, and what is no unit, is none', () => {
    for (const text of ['', ' ', 'boost', 'vacuum', 'gauge', 'deg', 'x'.repeat(100), 'toString', '__proto__', 'kPaX'])
      assert.equal(parseUnit(text, 'manifold-pressure'), undefined, text);
  });
  test('a unit that cannot measure the quantity is none with it, and known without', () => {
    for (const [text, quantity] of [
      ['V', 'lambda'],
      ['kPa', 'coolant-temperature'],
      ['rpm', 'vehicle-speed'],
      ['°', 'coolant-temperature'],
    ] as const) {
      assert.equal(parseUnit(text, quantity), undefined);
      assert.notEqual(parseUnit(text), undefined);
    }
  });
  test('every unit is read back from the symbol it is shown with', () => {
    for (const unit of Object.values(UNITS)) if (unit.symbol !== '') assert.equal(parseUnit(unit.symbol)?.id, unit.id, unit.symbol);
    for (const id of QUANTITY_IDS)
      if (UNITS[QUANTITIES[id].unit].symbol !== '')
        assert.equal(parseUnit(UNITS[QUANTITIES[id].unit].symbol, id)?.id, QUANTITIES[id].unit, id);
  });
  test('of a table: mg', () => {
    for (const text of ['mg', 'mg/stroke', 'mg/cyl']) assert.equal(parseUnitOf(text, 'mass')?.id, 'mg');
  });
  test('any text gives a unit of the quantity or none', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), fc.constantFrom(...QUANTITY_IDS), (text, quantity) => {
        const unit = parseUnit(text, quantity);
        return unit === undefined || unit.dimensions.includes(QUANTITIES[quantity].dimension);
      }),
    );
  });
});
