// What a trouble code says, in plain words: structure by SAE J2012 / ISO 15031-6, the wording our own, for the codes that touch fuelling.

/** Why a code matters to a fuel table: the reading is in doubt, the mixture itself, the engine is at risk, or worth knowing. */
export type CodeMatter = 'trust' | 'fuel' | 'stop' | 'info';

export interface TroubleCode {
  readonly code: string;
  readonly matter: CodeMatter;
  /** Plain words; undefined for a code that the table does not hold. */
  readonly says: string | undefined;
  readonly area: string;
  /** Who defines it. */
  readonly definedBy: 'standard' | 'manufacturer';
}

/** Assignments: SAE J2012 / ISO 15031-6, from public lists of the generic codes. */
const CODES: Readonly<Record<string, readonly [matter: CodeMatter, says: string]>> = {
  P0030: ['trust', 'heater control of the first oxygen sensor, bank 1, does not answer as it should'],
  P0031: ['trust', 'the same heater control, electrically low'],
  P0032: ['trust', 'the same heater control, electrically high'],
  P0036: ['trust', 'heater control of the sensor after the catalyst, bank 1'],
  P0053: ['trust', 'heater resistance of the first sensor, bank 1, out of range'],
  P0068: ['trust', 'manifold pressure or air flow does not fit the throttle opening'],
  P0069: ['trust', 'manifold and barometric pressure disagree when they should be equal'],
  P0087: ['stop', 'fuel pressure too low for what was asked'],
  P0088: ['fuel', 'fuel pressure too high'],
  P0089: ['fuel', 'fuel pressure regulator does not hold its set value'],
  P0100: ['trust', 'air flow meter circuit'],
  P0101: ['trust', 'air flow meter reads what the other sensors do not allow'],
  P0102: ['trust', 'air flow meter signal too low'],
  P0103: ['trust', 'air flow meter signal too high'],
  P0104: ['trust', 'air flow meter signal comes and goes'],
  P0105: ['trust', 'manifold pressure sensor circuit'],
  P0106: ['trust', 'manifold pressure reading not plausible'],
  P0107: ['trust', 'manifold pressure signal too low'],
  P0108: ['trust', 'manifold pressure signal too high (also seen when the range is exceeded by boost)'],
  P0109: ['trust', 'manifold pressure signal comes and goes'],
  P0110: ['trust', 'intake air temperature circuit'],
  P0111: ['trust', 'intake air temperature not plausible'],
  P0112: ['trust', 'intake air temperature signal low (reads very hot)'],
  P0113: ['trust', 'intake air temperature signal high (reads very cold, as with an open wire)'],
  P0115: ['trust', 'coolant temperature circuit'],
  P0116: ['trust', 'coolant temperature not plausible'],
  P0117: ['trust', 'coolant temperature signal low (reads very hot)'],
  P0118: ['trust', 'coolant temperature signal high (reads very cold: cold enrichment stays on)'],
  P0119: ['trust', 'coolant temperature signal comes and goes'],
  P0120: ['trust', 'throttle sensor A circuit'],
  P0121: ['trust', 'throttle sensor A not plausible'],
  P0122: ['trust', 'throttle sensor A signal low'],
  P0123: ['trust', 'throttle sensor A signal high'],
  P0125: ['info', 'engine not warm enough to go closed loop in time'],
  P0128: ['info', 'coolant stays below thermostat temperature'],
  P0130: ['trust', 'first oxygen sensor, bank 1: circuit'],
  P0131: ['trust', 'first oxygen sensor, bank 1: voltage stays low (lean, or a fault that looks lean)'],
  P0132: ['trust', 'first oxygen sensor, bank 1: voltage stays high'],
  P0133: ['trust', 'first oxygen sensor, bank 1: slow'],
  P0134: ['trust', 'first oxygen sensor, bank 1: no activity'],
  P0135: ['trust', 'first oxygen sensor, bank 1: heater'],
  P0136: ['info', 'second oxygen sensor, bank 1: circuit'],
  P0137: ['info', 'second oxygen sensor, bank 1: voltage stays low'],
  P0138: ['info', 'second oxygen sensor, bank 1: voltage stays high'],
  P0139: ['info', 'second oxygen sensor, bank 1: slow'],
  P0140: ['info', 'second oxygen sensor, bank 1: no activity'],
  P0141: ['info', 'second oxygen sensor, bank 1: heater'],
  P0150: ['trust', 'first oxygen sensor, bank 2: circuit'],
  P0151: ['trust', 'first oxygen sensor, bank 2: voltage stays low'],
  P0152: ['trust', 'first oxygen sensor, bank 2: voltage stays high'],
  P0153: ['trust', 'first oxygen sensor, bank 2: slow'],
  P0155: ['trust', 'first oxygen sensor, bank 2: heater'],
  P0170: ['fuel', 'fuel trim of bank 1 out of control'],
  P0171: ['fuel', 'bank 1 too lean: the trim has run out of room adding fuel'],
  P0172: ['fuel', 'bank 1 too rich: the trim has run out of room taking fuel away'],
  P0173: ['fuel', 'fuel trim of bank 2 out of control'],
  P0174: ['fuel', 'bank 2 too lean'],
  P0175: ['fuel', 'bank 2 too rich'],
  P0190: ['trust', 'fuel rail pressure sensor circuit'],
  P0191: ['trust', 'fuel rail pressure not plausible'],
  P0192: ['trust', 'fuel rail pressure signal low'],
  P0193: ['trust', 'fuel rail pressure signal high'],
  P0200: ['stop', 'injector circuit, cylinder not told'],
  P0201: ['stop', 'injector circuit of cylinder 1'],
  P0202: ['stop', 'injector circuit of cylinder 2'],
  P0203: ['stop', 'injector circuit of cylinder 3'],
  P0204: ['stop', 'injector circuit of cylinder 4'],
  P0205: ['stop', 'injector circuit of cylinder 5'],
  P0206: ['stop', 'injector circuit of cylinder 6'],
  P0207: ['stop', 'injector circuit of cylinder 7'],
  P0208: ['stop', 'injector circuit of cylinder 8'],
  P0217: ['stop', 'engine too hot'],
  P0219: ['stop', 'engine over its speed limit'],
  P0230: ['stop', 'fuel pump supply circuit'],
  P0234: ['stop', 'more boost than asked for'],
  P0235: ['trust', 'boost sensor A circuit'],
  P0236: ['trust', 'boost sensor A not plausible'],
  P0237: ['trust', 'boost sensor A signal low'],
  P0238: ['trust', 'boost sensor A signal high'],
  P0261: ['stop', 'injector 1 circuit low'],
  P0262: ['stop', 'injector 1 circuit high'],
  P0263: ['fuel', 'cylinder 1 gives less or more than its share'],
  P0299: ['fuel', 'less boost than asked for'],
  P0300: ['stop', 'misfire in several or changing cylinders (raises a false lean reading)'],
  P0301: ['stop', 'misfire of cylinder 1'],
  P0302: ['stop', 'misfire of cylinder 2'],
  P0303: ['stop', 'misfire of cylinder 3'],
  P0304: ['stop', 'misfire of cylinder 4'],
  P0305: ['stop', 'misfire of cylinder 5'],
  P0306: ['stop', 'misfire of cylinder 6'],
  P0307: ['stop', 'misfire of cylinder 7'],
  P0308: ['stop', 'misfire of cylinder 8'],
  P0313: ['stop', 'misfire while the tank is low'],
  P0325: ['stop', 'knock sensor 1 circuit: knock can no longer be heard'],
  P0326: ['stop', 'knock sensor 1 not plausible'],
  P0327: ['stop', 'knock sensor 1 signal low'],
  P0328: ['stop', 'knock sensor 1 signal high'],
  P0330: ['stop', 'knock sensor 2 (bank 2) circuit'],
  P0332: ['stop', 'knock sensor 2 (bank 2) signal low'],
  P0335: ['stop', 'crankshaft sensor A circuit'],
  P0336: ['trust', 'crankshaft sensor A not plausible'],
  P0340: ['stop', 'camshaft sensor circuit, bank 1'],
  P0341: ['trust', 'camshaft sensor not plausible, bank 1'],
  P0400: ['info', 'exhaust gas recirculation flow'],
  P0420: ['info', 'catalyst of bank 1 works below its threshold'],
  P0430: ['info', 'catalyst of bank 2 works below its threshold'],
  P0440: ['info', 'evaporative system fault'],
  P0441: ['fuel', 'tank purge flow wrong: fuel vapour enters unasked'],
  P0442: ['info', 'evaporative system, small leak'],
  P0443: ['fuel', 'purge valve circuit'],
  P0446: ['info', 'evaporative vent control circuit'],
  P0455: ['info', 'evaporative system, large leak'],
  P0456: ['info', 'evaporative system, very small leak'],
  P0457: ['info', 'evaporative leak, fuel cap suspected'],
  P0500: ['trust', 'vehicle speed sensor'],
  P0501: ['trust', 'vehicle speed not plausible'],
  P0505: ['info', 'idle control'],
  P0506: ['info', 'idle below its target'],
  P0507: ['fuel', 'idle above its target (an air leak is a usual cause)'],
  P0560: ['trust', 'supply voltage'],
  P0561: ['trust', 'supply voltage unstable (injector dead time moves with it)'],
  P0562: ['trust', 'supply voltage low'],
  P0563: ['trust', 'supply voltage high'],
  P0601: ['stop', 'control module memory checksum'],
  P0606: ['stop', 'control module processor'],
  P2096: ['fuel', 'trim after the catalyst, bank 1, at its lean end'],
  P2097: ['fuel', 'trim after the catalyst, bank 1, at its rich end'],
  P2098: ['fuel', 'trim after the catalyst, bank 2, at its lean end'],
  P2099: ['fuel', 'trim after the catalyst, bank 2, at its rich end'],
  P2135: ['stop', 'throttle or pedal sensors A and B disagree'],
  P2177: ['fuel', 'bank 1 too lean off idle'],
  P2178: ['fuel', 'bank 1 too rich off idle'],
  P2179: ['fuel', 'bank 2 too lean off idle'],
  P2180: ['fuel', 'bank 2 too rich off idle'],
  P2187: ['fuel', 'bank 1 too lean at idle'],
  P2188: ['fuel', 'bank 1 too rich at idle'],
  P2189: ['fuel', 'bank 2 too lean at idle'],
  P2190: ['fuel', 'bank 2 too rich at idle'],
  P2195: ['trust', 'first sensor, bank 1, stuck showing lean'],
  P2196: ['trust', 'first sensor, bank 1, stuck showing rich'],
  P2197: ['trust', 'first sensor, bank 2, stuck showing lean'],
  P2198: ['trust', 'first sensor, bank 2, stuck showing rich'],
  P2226: ['trust', 'barometric pressure sensor circuit'],
  P2227: ['trust', 'barometric pressure not plausible'],
  P2237: ['trust', 'wideband sensor, bank 1: pump current wire open'],
  P2243: ['trust', 'wideband sensor, bank 1: reference voltage wire open'],
  P2251: ['trust', 'wideband sensor, bank 1: common wire open'],
  P2263: ['fuel', 'boost system does not perform'],
  P2626: ['trust', 'wideband sensor, bank 1: trim wire open'],
};

const SYSTEMS: Readonly<Record<string, string>> = { P: 'engine and transmission', C: 'chassis', B: 'body', U: 'network' };

/** By the third character of a P code (SAE J2012). */
const AREAS: Readonly<Record<string, string>> = {
  0: 'fuel and air metering, or auxiliary emission control',
  1: 'fuel and air metering',
  2: 'fuel and air metering, injectors',
  3: 'ignition and misfire',
  4: 'auxiliary emission control',
  5: 'vehicle speed, idle and auxiliary inputs',
  6: 'control module and its outputs',
  7: 'transmission',
  8: 'transmission',
  9: 'transmission',
  A: 'hybrid propulsion',
  B: 'hybrid propulsion',
  C: 'hybrid propulsion',
};

/** Reads a code as written (`P0171`, `p 0171`); undefined where the text is none. */
export const troubleCodeOf = (text: string): TroubleCode | undefined => {
  const code = text.trim().toUpperCase().replace(/[\s-]/g, '');
  const parts = /^([PCBU])([0-3])([0-9A-F])[0-9A-F]{2}$/.exec(code);
  if (!parts) return undefined;
  const [, system, second, third] = parts;
  const known = CODES[code];
  // P0, P2 and P34 to P3F are generic, P1 and P30 to P33 the maker's; B, C, U: 0 and 3 generic or reserved, 1 and 2 the maker's.
  const manufacturer = system === 'P' ? second === '1' || (second === '3' && third < '4') : second === '1' || second === '2';
  return {
    code,
    matter: known?.[0] ?? 'info',
    says: known?.[1],
    definedBy: manufacturer ? 'manufacturer' : 'standard',
    area: system === 'P' ? (AREAS[third] ?? SYSTEMS.P) : SYSTEMS[system],
  };
};

/** What to look at first for a code, by its family. */
export const checkFirstOf = ({ code, matter }: TroubleCode): string => {
  if (/^P(0171|0174|2177|2179|2187|2189|2096|2098)$/.test(code))
    return 'check for unmetered air and an exhaust leak, then fuel pressure, then the air meter';
  if (/^P(0172|0175|2178|2180|2188|2190|2097|2099)$/.test(code))
    return 'check fuel pressure, a leaking injector and the purge valve, then the air meter';
  if (/^P03(0\d|13)$/.test(code)) return 'check plugs, coils and injectors of the cylinders named; add no fuel';
  if (/^P(003|005[0-9]|013|014|015|219|223|224|225|262)/.test(code))
    return "check this sensor's plug, heater supply and ground before believing lambda or trims";
  if (/^P(010[0-4])/.test(code)) return "check the air meter's plug and the ducting behind it";
  if (/^P(006[89]|010[5-9]|023[5-8]|222[67])/.test(code)) return "check the pressure sensor's plug, hose and range before believing load";
  if (/^P(0087|0230|019)/.test(code)) return 'check pump supply and fuel pressure under load';
  if (/^P(020|026)/.test(code)) return 'check the plug and wiring of this injector';
  if (/^P(032|033)/.test(code)) return "check the knock sensor's plug and mounting torque";
  return matter === 'stop'
    ? 'find the cause before the next pull'
    : matter === 'trust'
      ? "check this sensor's plug, supply and ground"
      : 'read it out with its freeze frame and repair what it names';
};
