// Questions asked of a drive's truth: how long the delay was at a flow, how long each cell was really used.

import { shares } from './grid.js';
import type { Drive } from './simulateDrive.js';

/** Whether a sample is what a careful person would use: fuelled, warm, not enriched, the sensor awake, nothing changing fast. */
export function steady(drive: Drive, i: number): boolean {
  const { truth, rateHz } = drive,
    back = Math.max(0, i - Math.max(1, Math.round(rateHz * 0.4)));
  return (
    !truth.cut[i] &&
    !truth.enriched[i] &&
    truth.coolantC[i] > 70 &&
    drive.timeS[i] > truth.sensorReadyAtS + 5 &&
    truth.speedRpm[i] > 500 &&
    Math.abs(truth.pressureKPa[i] - truth.pressureKPa[back]) < 12 &&
    !truth.cut[back]
  );
}

/** Seconds that each cell of the fuel table was in use (bilinear shares of steady samples). */
export function seconds(drive: Drive): Float64Array {
  const { truth, rateHz } = drive,
    total = new Float64Array(truth.fuelTable.values.length);
  const meter = drive.car.fuelTableQuantity === 'mass-air-flow';
  for (let i = 0; i < drive.timeS.length; i++) {
    if (!steady(drive, i)) continue;
    const cells = meter ? shares(truth.fuelTable, truth.meterV[i], 0) : shares(truth.fuelTable, truth.speedRpm[i], truth.pressureKPa[i]);
    for (const { cell, share } of cells) total[cell] += share / rateHz;
  }
  return total;
}

const median = (all: readonly number[]): number => {
  const sorted = [...all].sort((a, b) => a - b);
  return sorted.length ? (sorted[(sorted.length - 1) >> 1] + sorted[sorted.length >> 1]) / 2 : NaN;
};

/** The middle of the flows that were driven (half of the fuelled time lies below), g/s. */
export const middleFlowGPerS = (drive: Drive): number => median(Array.from(drive.truth.airFlowGPerS).filter((_, i) => steady(drive, i)));

/** True age of what the sensor shows at about a flow (±15 %), s: all of it, and the part up to the gas at the sensor. */
export function delayAtFlow(drive: Drive, flowGPerS: number): { wholeS: number; gasS: number } {
  const whole: number[] = [],
    gas: number[] = [];
  for (let i = 0; i < drive.timeS.length; i++) {
    if (!steady(drive, i) || Math.abs(Math.log(drive.truth.airFlowGPerS[i] / flowGPerS)) > 0.15) continue;
    whole.push(drive.truth.delayS[i]);
    gas.push(drive.truth.gasDelayS[i]);
  }
  return { wholeS: median(whole), gasS: median(gas) };
}
