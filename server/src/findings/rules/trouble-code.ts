// trouble-code: a code that the engine computer stored, in plain words and beside what the log shows.

import { formatNumber } from '../../quantities/format.js';
import type { QuantityId } from '../../quantities/quantity.js';
import type { LoggedCode } from '../../formats/session/session.js';
import { droopsOf } from '../../signals/droop.js';
import { byStart } from '../../signals/faults/byStart.js';
import type { Signals } from '../../signals/signals.js';
import { greatestOf, median } from '../../signals/columns/statistics.js';
import type { Finding, Rule, Severity } from '../finding.js';
import { mixtureOf } from '../mixture.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { checkFirstOf, troubleCodeOf, type TroubleCode } from '../troubleCodes.js';

const SEVERITY: Readonly<Record<TroubleCode['matter'], Severity>> = {
  stop: 'error',
  fuel: 'warning',
  trust: 'warning',
  info: 'information',
};
const MATTERS: Readonly<Record<TroubleCode['matter'], string>> = {
  stop: 'The engine is at risk: no more pulls.',
  fuel: 'It speaks of the mixture itself.',
  trust: 'What this sensor says is in doubt: repair it before any correction.',
  info: '',
};

/** Fuel trim of a bank, short and long together, as the warm engine's median; undefined where it is not logged. */
const trimOf = (signals: Signals, bank: 1 | 2): number | undefined => {
  const parts = (
    bank === 1 ? ['short-term-fuel-trim', 'long-term-fuel-trim'] : ['short-term-fuel-trim-2', 'long-term-fuel-trim-2']
  ) as QuantityId[];
  const held = parts.map((quantity) => signals.held(quantity)).filter((values) => values !== undefined);
  if (held.length === 0) return undefined;
  const rpm = signals.held('engine-speed');
  const sum = held.reduce((total, values) => total + median(rpm ? values.map((value, i) => (rpm[i] > 400 ? value : NaN)) : values), 0);
  return Number.isFinite(sum) ? sum : undefined;
};

/** What the log itself has to say to this code; empty where it has nothing. */
const besideIt = (signals: Signals, { code }: TroubleCode): string => {
  const bank = /^P(0174|0175|0173|2179|2180|2189|2190|2098|2099|015|2197|2198)/.test(code) ? 2 : 1;
  if (/^P(017[0-5]|21[78]\d|209[6-9])/.test(code)) {
    const trim = trimOf(signals, bank);
    if (trim === undefined) return '';
    const lean = /^P(0171|0174|2177|2179|2187|2189|2096|2098)/.test(code);
    const agrees = lean ? trim > 5 : trim < -5;
    return ` In this log the trims of bank ${bank} stand at ${trim > 0 ? '+' : ''}${formatNumber(trim, 0)} %, which ${agrees ? 'says the same' : Math.abs(trim) <= 5 ? 'is ordinary: it may have been set on another drive' : 'speaks against it'}.`;
  }
  if (/^P03(0\d|13)/.test(code)) {
    const { misfire } = mixtureOf(signals);
    return misfire.length > 0
      ? ` This log shows ${misfire.length} suspected misfire spell${misfire.length > 1 ? 's' : ''}, the first at ${formatNumber(signals.timeS[misfire[0].from], 1)} s.`
      : ' This log shows no misfire that lambda would tell.';
  }
  if (/^P(0087|0190|0191|0192|0230)/.test(code)) {
    const falls = droopsOf(signals).map(({ droop: { percent } }) => greatestOf(percent));
    return falls.length === 0
      ? ''
      : ` In this log fuel pressure falls by up to ${formatNumber(Math.max(0, ...falls.filter(Number.isFinite)), 0)} %.`;
  }
  const quantity: QuantityId | undefined = /^P(013|003|005|014|2195|2196|223|224|225|262)/.test(code)
    ? 'lambda'
    : /^P(015|2197|2198)/.test(code)
      ? 'lambda-2'
      : /^P(010[5-9]|006[89])/.test(code)
        ? 'manifold-pressure'
        : /^P010[0-4]/.test(code)
          ? 'mass-air-flow'
          : /^P011[0-4]/.test(code)
            ? 'intake-air-temperature'
            : /^P011[5-9]/.test(code)
              ? 'coolant-temperature'
              : /^P012[0-4]/.test(code)
                ? 'throttle'
                : undefined;
  if (!quantity || !signals.channel(quantity)) return '';
  const faults = byStart(
    signals.session.channels
      .filter((channel) => channel.quantity === quantity)
      .flatMap((channel) => signals.faultsOf(channel).filter(({ kind }) => kind !== 'cold')),
  );
  return faults.length > 0
    ? ` This log shows ${signals.channel(quantity)!.name} failing ${faults.length} time${faults.length > 1 ? 's' : ''}, the first at ${formatNumber(signals.timeS[faults[0].from], 1)} s.`
    : ` In this log ${signals.channel(quantity)!.name} looks sound.`;
};

/** How the controllers hold a code, where the log says it: ` (stored in 7E8, pending in 7E9)`. */
const heldWords = (all: readonly LoggedCode[]): string => {
  const told = [...new Set(all.flatMap(({ state, controller }) => (state ? [`${state}${controller ? ` in ${controller}` : ''}`] : [])))];
  return told.length === 0 ? '' : ` (${told.join(', ')})`;
};

const PENDING = ' It is pending: seen once and not yet confirmed, so it may clear itself.';
const PERMANENT = ' It is permanent: it stays until the controller has found the repair good by itself.';
/** What the state adds; the surest one speaks. */
const stateWords = (all: readonly LoggedCode[]): string => {
  const states = new Set(all.map(({ state }) => state));
  return states.has('stored') || states.has(undefined) ? '' : states.has('permanent') ? PERMANENT : PENDING;
};

const words = (
  signals: Signals,
  logged: LoggedCode,
  all: readonly LoggedCode[],
): { severity: Severity; message: string; data: Record<string, unknown> } => {
  const code = troubleCodeOf(logged.text);
  if (!code)
    return {
      severity: 'information',
      message: `"${logged.text}" is not a trouble code as SAE J2012 writes them (a letter P, C, B or U and four digits). Check how the logger writes codes.`,
      data: { text: logged.text },
    };
  const says =
    code.says ??
    `${code.area}; ${code.definedBy === 'manufacturer' ? "the maker's own code, see the maker's documents" : 'a standard code outside fuelling'}`;
  const matters = code.says ? ` ${MATTERS[code.matter]}` : '';
  return {
    severity: SEVERITY[code.matter],
    message: `${code.code}${heldWords(all)}: ${says}.${matters.trimEnd()}${stateWords(all)}${besideIt(signals, code)} First ${checkFirstOf(code)}.`,
    data: {
      code: code.code,
      matter: code.matter,
      area: code.area,
      definedBy: code.definedBy,
      ...(logged.state ? { states: [...new Set(all.map(({ state }) => state))] } : {}),
    },
  };
};

const trims = (): string =>
  sampleLog(10, 0.5, {
    'engine speed (rpm)': (t) => 2000 + unrest(t, 20),
    'short-term fuel trim (%)': () => 6,
    'long-term fuel trim (%)': () => 12,
  });

export const rule: Rule = {
  code: 'trouble-code',
  concerns: 'engine',
  docs: {
    title: 'Trouble code',
    meaning:
      'The engine computer has its own opinion. A code can mean that a reading is in doubt, that the mixture is off, or that the engine is at risk; each wants repair before a table is touched.',
    computed:
      'From a code channel, a `# trouble-codes:` note, or the answers to services 03, 07 and 0A (stored, pending, permanent) in a CAN capture. Structure by SAE J2012 / ISO 15031-6; plain words for the codes that touch fuelling. An error where the engine is at risk (misfire, knock sensor, injector circuit, fuel pump), a warning where a reading or the mixture is in doubt, else worth knowing. What the log shows on the same matter is said beside it.',
    causes: [
      'What the code names, or its plug and wiring',
      'An older fault that was repaired but not cleared',
      'A consequence of another code: misfire and lean codes come in company',
    ],
    checkFirst: 'All stored codes with their freeze frames, before clearing any.',
    limits: [],
  },
  sample: () => ({
    firing: `=== a.session.csv\n# trouble-codes: P0171\n${trims()}`,
    quiet: `=== a.session.csv\n${trims()}`,
  }),
  session: (signals) => {
    // A code that stays, goes and comes back, or that two controllers hold, is one code.
    const groups = new Map<string, LoggedCode[]>();
    for (const logged of signals.session.codes) {
      const key = troubleCodeOf(logged.text)?.code ?? logged.text;
      const group = groups.get(key);
      if (group) group.push(logged);
      else groups.set(key, [logged]);
    }
    return [...groups.values()].map((all): Finding => {
      const logged = all[0];
      const { severity, message, data } = words(signals, logged, all);
      const at = logged.sample === undefined ? undefined : signals.timeS[logged.sample];
      return {
        code: 'trouble-code',
        severity,
        range: logged.range,
        message,
        channel: 'trouble-code',
        ...(at === undefined ? {} : { timeS: [at, at] as const }),
        data,
      };
    });
  },
};
