// Service 01 against worked values. Scalings: SAE J1979 / ISO 15031-5, as seen in public renderings of its table; rows marked "memory" are
// from memory.

import assert from 'node:assert/strict';
import { readCandump } from '../../../server/src/formats/can/readCandump.js';
import { supportedIdentifiers } from '../../../server/src/formats/can/service01.js';
import { channelOf, type Session } from '../../../server/src/formats/session/session.js';
import { textSource } from '../../../server/src/formats/source.js';
import { frameLines } from './frames.js';

/** A session of answers of 7E8, each a payload in hex. */
const answered = (...payloads: string[]): Session =>
  readCandump(textSource(frameLines(payloads.map((payload) => ({ id: '7E8', payload })))));
/** The last reading of the channel of this name; undefined where it has none. */
const last = (session: Session, name: string): number | undefined =>
  session.channels
    .find((channel) => channel.header === name)
    ?.values.filter((value) => !Number.isNaN(value))
    .at(-1);

type Row = [identifier: string, data: string, channel: string, expected: number | undefined, tolerance?: number];

const ROWS: readonly Row[] = [
  ['03', '0200', 'Fuel system status', 2], // closed loop (memory)
  ['03', '0400', 'Fuel system status', 4], // open loop by load or fuel cut (memory)
  ['04', '80', 'Calculated load', 50.19608, 1e-4],
  ['04', 'FF', 'Calculated load', 100],
  ['04', '33', 'Calculated load', 20, 1e-4],
  ['05', '7B', 'Coolant temperature', 83],
  ['05', '00', 'Coolant temperature', -40],
  ['06', '80', 'Short-term fuel trim', 0],
  ['06', '94', 'Short-term fuel trim', 15.625],
  ['07', '70', 'Long-term fuel trim', -12.5],
  ['07', 'FF', 'Long-term fuel trim', 99.21875],
  ['08', '00', 'Short-term fuel trim bank 2', -100],
  ['08', '86', 'Short-term fuel trim bank 2', 4.6875],
  ['09', '7F', 'Long-term fuel trim bank 2', -0.78125],
  ['09', '8C', 'Long-term fuel trim bank 2', 9.375],
  ['0A', '64', 'Fuel pressure', 300],
  ['0A', 'FF', 'Fuel pressure', 765],
  ['0B', '23', 'Manifold pressure', 35],
  ['0B', 'FF', 'Manifold pressure', 255],
  ['0C', '1AF8', 'Engine speed', 1726],
  ['0C', '0C80', 'Engine speed', 800],
  ['0C', 'FFFF', 'Engine speed', 16383.75],
  ['0D', '64', 'Vehicle speed', 100],
  ['0D', 'FF', 'Vehicle speed', 255],
  ['0E', '94', 'Ignition advance', 10],
  ['0E', '80', 'Ignition advance', 0],
  ['0E', '00', 'Ignition advance', -64],
  ['0F', '46', 'Intake air temperature', 30],
  ['0F', '1E', 'Intake air temperature', -10],
  ['10', '0190', 'Mass air flow', 4],
  ['10', '2EE0', 'Mass air flow', 120],
  ['10', 'FFFF', 'Mass air flow', 655.35],
  ['11', '2A', 'Throttle position', 16.47059, 1e-4],
  ['11', 'FF', 'Throttle position', 100],
  ['14', '5A80', 'Oxygen sensor voltage B1S1', 0.45],
  ['14', '5A80', 'Oxygen sensor trim B1S1', 0],
  ['14', '14FF', 'Oxygen sensor voltage B1S1', 0.1],
  ['14', '14FF', 'Oxygen sensor trim B1S1', undefined],
  ['14', 'B48C', 'Oxygen sensor voltage B1S1', 0.9],
  ['14', 'B48C', 'Oxygen sensor trim B1S1', 9.375],
  ['1B', '5A80', 'Oxygen sensor voltage B2S4', 0.45],
  ['1F', '003C', 'Time since engine start', 60],
  ['1F', '0E10', 'Time since engine start', 3600],
  ['21', '002A', 'Distance with lamp on', 42],
  ['21', '0100', 'Distance with lamp on', 256],
  ['22', '0FA0', 'Fuel rail pressure above manifold', 316, 1e-3],
  ['22', '0064', 'Fuel rail pressure above manifold', 7.9, 1e-3],
  ['23', '01F4', 'Fuel rail pressure', 5000],
  ['23', '05DC', 'Fuel rail pressure', 15000],
  ['24', '80004000', 'Lambda B1S1', 1, 1e-5],
  ['24', '80004000', 'Wideband voltage B1S1', 2, 1e-5],
  ['24', '6CCD2E14', 'Lambda B1S1', 0.85001, 1e-5],
  ['24', '6CCD2E14', 'Wideband voltage B1S1', 1.43994, 1e-5],
  ['24', 'FFFFFFFF', 'Lambda B1S1', 1.99997, 1e-5],
  ['24', 'FFFFFFFF', 'Wideband voltage B1S1', 7.99988, 1e-5],
  ['33', '65', 'Barometric pressure', 101],
  ['33', '54', 'Barometric pressure', 84],
  ['34', '80008000', 'Lambda by pump current B1S1', 1, 1e-5],
  ['34', '80008000', 'Wideband pump current B1S1', 0, 1e-5],
  ['34', '6E147F40', 'Lambda by pump current B1S1', 0.85999, 1e-5],
  ['34', '6E147F40', 'Wideband pump current B1S1', -0.75, 1e-5],
  ['34', '9C298080', 'Lambda by pump current B1S1', 1.22, 1e-5],
  ['34', '9C298080', 'Wideband pump current B1S1', 0.5, 1e-5],
  ['3C', '1B58', 'Catalyst temperature B1S1', 660],
  ['3C', '0190', 'Catalyst temperature B1S1', 0],
  ['42', '36B0', 'Control module voltage', 14],
  ['42', '2EE0', 'Control module voltage', 12],
  ['43', '0080', 'Absolute load', 50.19608, 1e-4],
  ['43', '01CC', 'Absolute load', 180.39216, 1e-4],
  ['44', '8000', 'Target lambda', 1, 1e-5],
  ['44', '6E14', 'Target lambda', 0.85999, 1e-5],
  ['45', '1A', 'Relative throttle position', 10.19608, 1e-4],
  ['45', 'CC', 'Relative throttle position', 80, 1e-4],
  ['46', '3C', 'Ambient temperature', 20],
  ['46', '28', 'Ambient temperature', 0],
  ['47', '33', 'Throttle position B', 20, 1e-4],
  ['47', '66', 'Throttle position B', 40, 1e-4],
  ['49', '26', 'Pedal position D', 14.90196, 1e-4],
  ['49', 'D9', 'Pedal position D', 85.09804, 1e-4],
  ['4C', '0D', 'Commanded throttle', 5.09804, 1e-4],
  ['4C', 'FF', 'Commanded throttle', 100, 1e-4],
  ['51', '01', 'Fuel type', 1],
  ['51', '03', 'Fuel type', 3], // gasoline, ethanol
  ['52', '1A', 'Ethanol content', 10.19608, 1e-4],
  ['52', 'D9', 'Ethanol content', 85.09804, 1e-4],
  ['5C', '82', 'Oil temperature', 90],
  ['5C', '28', 'Oil temperature', 0],
  ['5E', '0012', 'Fuel rate', 0.9],
  ['5E', '0258', 'Fuel rate', 30],
  ['61', 'AF', 'Driver demand torque', 50],
  ['61', '7D', 'Driver demand torque', 0],
  ['62', 'C8', 'Engine torque', 75],
  ['62', '73', 'Engine torque', -10],
  ['63', '015E', 'Reference torque', 350],
  ['63', '0258', 'Reference torque', 600],
  ['01', '83076504', 'Malfunction lamp', 1],
  ['01', '83076504', 'Stored trouble codes', 3],
];

suite('service 01', () => {
  for (const [identifier, data, channel, expected, tolerance] of ROWS) {
    test(`${identifier} ${data}: ${channel} ${expected ?? 'none'}`, () => {
      const found = last(answered(`41${identifier}${data}`), channel);
      if (expected === undefined || tolerance === undefined) assert.equal(found, expected);
      else assert.ok(found !== undefined && Math.abs(found - expected) <= tolerance, String(found));
    });
  }

  // 59 is absolute, and fuel pressure is kept as gauge: the air around the car is taken off, which the capture's own barometer tells.
  for (const [data, absoluteKPa] of [
    ['0258', 6000],
    ['07D0', 20000],
  ] as const) {
    test(`59 ${data}: ${absoluteKPa} kPa absolute`, () => {
      assert.equal(last(answered('413365', `4159${data}`), 'Fuel rail absolute pressure'), absoluteKPa - 101);
    });
  }

  test('torque in N m is actual torque by reference torque (262.5 for C8 and 01 5E)', () => {
    const session = answered('4162C8', '4163015E');
    assert.equal(((last(session, 'Engine torque') ?? 0) * (last(session, 'Reference torque') ?? 0)) / 100, 262.5);
  });

  test('4F and 50 rescale; zeros leave the default ranges', () => {
    assert.equal(last(answered('414F00000033', '410B80'), 'Manifold pressure'), 256); // how 0B is rescaled: from memory
    assert.equal(last(answered('410B80', '414F00000033'), 'Manifold pressure'), 256);
    assert.equal(last(answered('414F00000000', '410BFF', '412480004000'), 'Manifold pressure'), 255);
    assert.equal(last(answered('414F00000000', '412480004000'), 'Lambda B1S1'), 1);
    const four = answered('414F04100200', '412480004000', '413480008100', '41448000');
    assert.deepEqual(
      ['Lambda B1S1', 'Wideband voltage B1S1', 'Wideband pump current B1S1', 'Target lambda'].map((name) => last(four, name)),
      [2, 4, 1 / 64, 2],
    );
    assert.equal(last(answered('415032000000', '4110FFFF'), 'Mass air flow')?.toFixed(9), '500.000000000');
    assert.equal(last(answered('415000000000', '4110FFFF'), 'Mass air flow'), 655.35);
  });

  test('supported identifiers', () => {
    const text = (asked: number, bytes: number[]): string =>
      supportedIdentifiers(asked, Uint8Array.from(bytes), 0)
        .map((each) => each.toString(16).toUpperCase().padStart(2, '0'))
        .join(' ');
    assert.equal(text(0x00, [0xbe, 0x1f, 0xb8, 0x10]), '01 03 04 05 06 07 0C 0D 0E 0F 10 11 13 14 15 1C'); // SAE J1979
    assert.equal(text(0x20, [0x80, 0x01, 0x80, 0x01]), '21 30 31 40'); // derived
  });

  test('several identifiers in one answer: 06 41 0C 1A F8 0B 64 is 1726 rpm and 100 kPa (SAE J1979, from memory)', () => {
    const session = answered('410C1AF80B64');
    assert.equal(session.samples, 1);
    assert.deepEqual([last(session, 'Engine speed'), last(session, 'Manifold pressure')], [1726, 100]);
  });

  test('an identifier that nothing is known of ends the answer, and is told', () => {
    const session = answered('410C1AF8FE640B64');
    assert.deepEqual(
      session.channels.map(({ name }) => name),
      ['Engine speed'],
    );
    assert.deepEqual(
      session.problems.map(({ kind, data }) => [kind, data.unknownIdentifiers]),
      [['frames-left', ['FE']]],
    );
  });

  test('trims of cars with more than two banks carry two bytes; the first is the bank of the name', () => {
    assert.equal(last(answered('41069480'), 'Short-term fuel trim'), 15.625); // SAE J1979, from memory
  });

  test('lambda is only what a sensor ahead of the catalyst reads', () => {
    const lambdas = (...payloads: string[]): string[] =>
      answered(...payloads)
        .channels.filter(({ name }) => name.startsWith('Lambda'))
        .map(({ name, quantity }) => `${name}: ${quantity ?? 'none'}`);
    // Identifier 13: two banks of four sensors. SAE J1979.
    assert.deepEqual(lambdas('412480004000', '412580004000', '412880004000', '412980004000'), [
      'Lambda B1S1: lambda',
      'Lambda B1S2: none',
      'Lambda B2S1: lambda-2',
      'Lambda B2S2: none',
    ]);
    // Identifier 1D: four banks of two, whether it is answered or only said to be there (bit of 00). Order of the banks from memory.
    for (const told of ['411D0F', '410000000008']) {
      assert.deepEqual(lambdas(told, '412480004000', '412580004000', '412680004000', '412880004000'), [
        'Lambda B1S1: lambda',
        'Lambda B1S2: none',
        'Lambda B2S1: lambda-2',
        'Lambda B3S1: none',
      ]);
    }
    assert.equal(channelOf(answered('413680008000'), 'lambda'), undefined);
  });
});
