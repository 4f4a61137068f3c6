// Names of channels: SAE J1979 data items as public tables spell them, the trade's abbreviations (common practice, no source), and names
// that must stay unknown.

import assert from 'node:assert/strict';
import { impliedUnit, recognise } from '../../server/src/formats/session/channelNames.js';
import { splitHeader } from '../../server/src/formats/session/describe.js';

const KNOWN: Readonly<Record<string, string>> = {
  time: 'Time|timestamp|Elapsed Time|time_ms|Log time|t|Seconds|Run Time|ENGINE_RUN_TIME|Time since engine start|UTC time',
  'engine-speed': 'Engine Speed|RPM|ENGINE_RPM|engineSpeed|Engine revs|Eng Spd',
  'manifold-pressure':
    'MAP|Manifold Pressure|INTAKE_MANIFOLD_PRESSURE|Intake Manifold Absolute Pressure|Boost|Boost Pressure|manifold_absolute_pressure|Charge pressure',
  'barometric-pressure': 'Baro|Barometric Pressure|ABSOLUTE_BAROMETRIC_PRESSURE|Atmospheric pressure|Ambient pressure',
  throttle: 'Throttle|TPS|Throttle Position|THROTTLE_POSITION|Absolute throttle position A|RELATIVE_THROTTLE_POSITION',
  pedal: 'Pedal|PEDAL_D|Accelerator pedal position D|AccelPedalPos|Accelerator Position',
  lambda:
    'Lambda|λ|AFR|Air/Fuel Ratio|A/F|Wideband O2|WBO2|O2 wideband lambda|Lambda 1|Lambda bank 1|Lambda analog|Lambda CAN|Lambda CAN 1|AFR serial|AFR E85|Oxygen Sensor 1 Wide Range Lambda|Lambda B1S1|UEGO|Phi|Equivalence ratio|O2 Sensor lambda|Lambda 3|Lambda Cyl 4|AFR cylinder 6',
  'lambda-2': 'Lambda 2|Lambda Bank 2|Lambda 2 CAN|AFR 2|AFR B2|Lambda B2S1',
  'target-lambda':
    'Target Lambda|Lambda target|Commanded AFR|AFR Target|FUEL_AIR_COMMANDED_EQUIV_RATIO|Commanded equivalence ratio|Desired lambda|Lambda setpoint',
  'short-term-fuel-trim': 'STFT|Short Term Fuel Trim|SHORT_TERM_FUEL_TRIM_BANK_1|STFT B1|STFT1|Short term fuel trim - Bank 1',
  'long-term-fuel-trim': 'LTFT|LONG_TERM_FUEL_TRIM_BANK_1|Long Fuel Trim Bank 1',
  'short-term-fuel-trim-2': 'STFT2|Short Term Fuel Trim Bank 2|STFT B2',
  'long-term-fuel-trim-2': 'LTFT 2|LONG_TERM_FUEL_TRIM_BANK_2',
  'intake-air-temperature': 'IAT|INTAKE_AIR_TEMP|Intake air temperature|Inlet Temp|Charge air temp|Air Temp',
  'coolant-temperature': 'ECT|CLT|Coolant|Coolant Temp|ENGINE_COOLANT_TEMPERATURE|Water temp',
  'oil-temperature': 'Oil Temp|Engine oil temperature',
  'exhaust-gas-temperature': 'EGT|EGT 1|Exhaust Gas Temperature|Exhaust gas temperature Bank 1',
  'fuel-pressure': 'Fuel Pressure|Fuel Rail Pressure|FuelPress|FRP',
  'oil-pressure': 'Oil Pressure|Oil press',
  'ignition-advance': 'Ignition Advance|TIMING_ADVANCE|Timing|Spark Advance|Ignition Timing|Timing advance for cylinder 1',
  'knock-retard': 'Knock Retard|KR|Spark retard|Knock retard cyl 3',
  'injector-pulse-width': 'Injector Pulse Width|Inj PW|Pulse width|IPW|Injection time',
  'injector-duty': 'Injector Duty|Injector Duty Cycle|IDC|Inj DC',
  'mass-air-flow': 'MAF|Mass Air Flow|Mass air flow rate|Airflow|Air mass',
  'mass-air-flow-signal': 'MAF voltage|MAF frequency|Mass air flow sensor voltage',
  'vehicle-speed': 'Vehicle Speed|VSS|VEHICLE_SPEED|Speed|Road speed|GPS Speed',
  'battery-voltage': 'Battery|Battery Voltage|CONTROL_MODULE_VOLTAGE|VBat|System voltage',
  'ethanol-content': 'Ethanol|Ethanol content|Flex fuel|Ethanol fuel %',
  'engine-load': 'Engine Load|Calculated Load|ENGINE_LOAD|Load|Absolute load value',
  gear: 'Gear|Current gear|Gear position',
  'fuel-cut': 'Fuel cut|Overrun|DFCO|Fuel cut active|Overrun fuel cut flag',
  'trouble-code': 'DTC|DTCs|Trouble codes|Diagnostic trouble codes|Fault code',
};

const UNKNOWN = [
  'O2 Sensor 3 lambda',
  'Lambda Bank 3',
  'Active Map',
  'Map number',
  'MAP No',
  'Current map',
  'Analog 1',
  'CAN',
  'Analog voltage',
  'Serial number',
  'COMMANDED_THROTTLE_ACTUATOR',
  'FUEL_TANK',
  'Fuel tank level',
  'Fuel level',
  'CATALYST_TEMPERATURE_BANK1_SENSOR1',
  'O2 Voltage B1S1',
  'O2 Sensor 1 voltage',
  'Oxygen sensor voltage',
  'O2S11',
  'Lambda B1S2',
  'AFR rear',
  'Lambda post cat',
  'TIME_RUN_WITH_MIL_ON',
  'TIME_SINCE_TROUBLE_CODES_CLEARED',
  'DISTANCE_TRAVELED_WITH_MIL_ON',
  'WARM_UPS_SINCE_CODES_CLEARED',
  'COMMANDED_EVAPORATIVE_PURGE',
  'ABSOLUTE_THROTTLE_B',
  'Ambient air temperature',
  'Transmission oil temperature',
  'Target boost',
  'Boost duty cycle',
  'Knock',
  'Knock sensor voltage',
  'Fuel rate',
  'Fuel trim',
  'Target throttle',
  'Evap pressure',
  'Tire pressure',
  'Engine torque',
  'Wideband voltage',
  'Lambda sensor voltage',
  'Brake pressure',
  'Wastegate',
  'Latitude',
  'Altitude',
  'X',
  '',
  '   ',
  '42',
  '()',
];

suite('channel names', () => {
  for (const [quantity, names] of Object.entries(KNOWN)) {
    test(quantity, () => {
      for (const name of names.split('|')) assert.deepEqual(recognise(name), { quantity, from: 'name' }, name);
    });
  }

  test('names of other things stay unknown', () => {
    for (const name of UNKNOWN) assert.equal(recognise(name), undefined, name);
  });

  test('a slip of the pen is a guess', () => {
    for (const [name, quantity] of [
      ['ENGINE_RUN_TINE', 'time'],
      ['Manifold presure', 'manifold-pressure'],
      ['Engine Sped', 'engine-speed'],
      ['Throtle position', 'throttle'],
      ['Coolant temprature', 'coolant-temperature'],
      ['lamda', 'lambda'],
    ]) {
      assert.deepEqual(recognise(name), { quantity, from: 'guess' }, name);
    }
  });

  test('units that a name says', () => {
    assert.equal(impliedUnit('AFR E85', 'lambda')?.fuel, 'E85');
    assert.equal(impliedUnit('AFR', 'lambda')?.id, 'afr');
    assert.equal(impliedUnit('AFR', 'lambda')?.fuel, undefined);
    assert.equal(impliedUnit('Commanded equivalence ratio', 'target-lambda')?.id, 'lambda'); // SAE J1979 item 44: below 1 is rich
    assert.equal(impliedUnit('Equivalence ratio', 'lambda')?.id, 'phi');
    assert.equal(impliedUnit('Wideband', 'lambda'), undefined);
  });

  test('name and unit of a header', () => {
    assert.deepEqual(splitHeader('Engine Speed (rpm)'), { name: 'Engine Speed', unitText: 'rpm' });
    assert.deepEqual(splitHeader('Engine Speed [rpm] '), { name: 'Engine Speed', unitText: 'rpm' });
    assert.deepEqual(splitHeader('ENGINE_RPM ()'), { name: 'ENGINE_RPM', unitText: '' });
    assert.deepEqual(splitHeader('Short Term Fuel Trim (Bank 2) (%)'), { name: 'Short Term Fuel Trim (Bank 2)', unitText: '%' });
    assert.deepEqual(splitHeader('Short Term Fuel Trim (Bank 2)'), { name: 'Short Term Fuel Trim Bank 2', unitText: undefined });
    assert.deepEqual(splitHeader('Lambda'), { name: 'Lambda', unitText: undefined });
    assert.deepEqual(splitHeader('MAP (kPa (abs))'), { name: 'MAP', unitText: 'kPa (abs)' });
  });
});
