// afr-scale-mismatch: an AFR column on another fuel's scale than the one it is read on.

import { formatNumber } from '../../quantities/format.js';
import { GASOLINE_SCALE_AFR } from '../../quantities/fuels.js';
import { vehicleFuel } from '../../formats/vehicle/vehicleFuel.js';
import { faultsByChannel } from '../../signals/faults/byChannel.js';
import { LEAST_SCALE_GAP } from '../../signals/faults/afrScale.js';
import type { Fault, Signals } from '../../signals/signals.js';
import type { Finding, Rule } from '../finding.js';
import { sampleLog, unrest } from '../sampleLog.js';
import { nameOf, spellFinding } from '../spell.js';

const drive = (afrAtLambda1: number) =>
  sampleLog(20, 0.5, {
    'engine speed (rpm)': (t) => 2000 + 400 * Math.sin(t / 3) + unrest(t, 9),
    'manifold pressure (kPa)': (t) => 55 + 15 * Math.sin(t / 3 + 0.3) + unrest(t, 0.6),
    AFR: (t) => (1 + unrest(t, 0.01)) * afrAtLambda1,
  });

const onOtherScale = (signals: Signals, fault: Fault): Finding => {
  const { looksLike, readOnAfr, trueAfr, middle } = fault.data;
  return spellFinding(signals, fault.channel, fault, {
    code: 'afr-scale-mismatch',
    severity: 'error',
    message:
      `${nameOf(fault.channel)} is read on the scale of ${formatNumber(Number(readOnAfr), 1)} : 1, which puts the whole drive near λ ${formatNumber(Number(middle), 2)}. It fits ${String(looksLike)} (${formatNumber(Number(trueAfr), 1)} : 1): λ ${formatNumber(Number(middle) * Number(fault.data.factor), 2)}. ` +
      'Check the fuel setting of the display and name the fuel in the header, or log lambda; until then nothing is concluded from it.',
    data: fault.data,
  });
};

/** Read right, as lambda, but its numbers are not AFR of the fuel in the tank: worth knowing for whoever reads them so. */
const labelOnly = (signals: Signals): Finding[] => {
  const fuel = vehicleFuel(signals.vehicle);
  const channel = signals.channel('lambda') ?? signals.channel('lambda-2');
  if (
    !fuel ||
    !channel ||
    channel.unit?.id !== 'afr' ||
    channel.unit.fuel !== undefined ||
    Math.abs(Math.log(fuel.stoichAfr / GASOLINE_SCALE_AFR)) < LEAST_SCALE_GAP
  )
    return [];
  return [
    {
      code: 'afr-scale-mismatch',
      severity: 'information',
      range: channel.headerRange,
      channel: channel.quantity ?? channel.name,
      message: `${nameOf(channel)} is on the gasoline scale (${formatNumber(GASOLINE_SCALE_AFR, 1)} : 1) while ${fuel.name} burns (${formatNumber(fuel.stoichAfr, 1)} : 1). It is read as lambda and judged rightly; only do not read its numbers as AFR of this fuel. Log lambda and nobody has to.`,
      data: { readOnAfr: GASOLINE_SCALE_AFR, trueAfr: fuel.stoichAfr },
    },
  ];
};

export const rule: Rule = {
  code: 'afr-scale-mismatch',
  concerns: 'readings',
  docs: {
    title: "AFR on another fuel's scale",
    meaning:
      'A sensor measures lambda; AFR is only its label, for one fuel. Read on the wrong scale every number is off by the same share, an engine in perfect order looks dangerously rich or lean, and a correction from it would ruin one.',
    computed:
      "Where the tank's fuel (vehicle.json) and gasoline differ by more than 12 % in stoichiometric air-fuel ratio, the middle of the whole AFR column is compared with λ 1 (or the middle of the logged target). " +
      "If it lies at the ratio of the two scales instead, or three quarters of the column are richer than λ 0.65, at which no engine runs, and the other scale mends that, the column is on the other one; so is a logged target that names no fuel, whose leanest number is richer than richLambda and as AFR of the tank's fuel about λ 1. The scales of ethanol-rich fuels, ethanol and methanol are tried too: without a known fuel as these are, with one where the middle of warm idle and cruise lies within 10 % of that scale. Nothing is concluded from the column until that is settled. A plain AFR column that does fit the gasoline scale while such a fuel burns is read rightly and only said.",
    causes: [
      'The display was set to the fuel in the tank while its header says plain AFR (read on the gasoline scale)',
      'The header names the fuel but the display stayed on the gasoline scale',
      'Another fuel in the tank than vehicle.json says',
    ],
    checkFirst: "The fuel setting of the sensor's controller or display; better, log lambda.",
    limits: [],
  },
  sample: () => ({
    firing: `=== vehicle.json\n{ "fuel": { "blend": "E85" } }\n=== a.session.csv\n${drive(9.81)}`,
    quiet: `=== vehicle.json\n{ "fuel": { "blend": "E10" } }\n=== a.session.csv\n${drive(14.7)}`,
  }),
  session: (signals) => {
    const found = [...faultsByChannel(signals, 'implausible').values()]
      .flat()
      .filter((fault) => fault.shape === 'afr-scale')
      .map((fault) => onOtherScale(signals, fault));
    return found.length > 0 ? found : labelOnly(signals);
  },
};
