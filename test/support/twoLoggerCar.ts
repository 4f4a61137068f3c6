// A car whose drive two loggers recorded: the engine computer without lambda, the wideband with a clock of its own. The drive is drawn by
// its own equations.

import { drawDrive, drawFrom } from '../signals/clocks/twoLoggers.js';
import { SAMPLE_TABLE } from './sampleDrive.js';

export interface TwoLogs {
  readonly ecu: string;
  readonly wideband: string;
  /** Where the wideband's 0 s lies on the engine computer's clock, seconds, and how much faster its clock runs. */
  readonly offsetS: number;
  readonly fast: number;
  /** λ by the engine computer's clock. */
  lambdaAt(ecuS: number): number;
}

const LENGTH_S = 420;

export function twoLogs(seed: number): TwoLogs {
  const draw = drawFrom(seed);
  const drive = drawDrive(draw, LENGTH_S);
  const offsetS = draw.between(3, 30);
  const fast = draw.between(-0.0008, 0.0008);
  const kPaAt = (atS: number): number => 42 + 1.5 * Math.sin(atS / 3);
  const lambdaAt = (atS: number): number => 1.05 + 0.03 * Math.sin(atS / 11);
  const ecu = ['Time (s),Engine Speed (rpm),Manifold Pressure (kPa),Throttle (%),Target Lambda (λ),Coolant Temperature (°C)'];
  for (let atS = 0; atS < LENGTH_S - 20; atS += 0.05) {
    ecu.push(
      [
        atS.toFixed(3),
        Math.round(drive.rpmAt(atS) + 5 * draw.normal()),
        kPaAt(atS).toFixed(1),
        (18 + Math.sin(atS)).toFixed(1),
        '1.00',
        '88',
      ].join(','),
    );
  }
  const wideband = ['# logger: workshop wideband', 'Time (ms);AFR (AFR gasoline);RPM (rpm);EGT (°C)'];
  for (let index = 0; index / 12.5 < LENGTH_S - offsetS; index++) {
    const trueS = offsetS + index / 12.5;
    wideband.push(
      [
        ((index / 12.5) * (1 + fast) * 1000).toFixed(0),
        (14.7 * lambdaAt(trueS)).toFixed(3).replace('.', ','),
        Math.round((drive.rpmAt(trueS) + 8 * draw.normal()) / 10) * 10,
        index % 5 === 0 ? '712,5' : '',
      ].join(';'),
    );
  }
  return { ecu: `${ecu.join('\n')}\n`, wideband: `${wideband.join('\n')}\n`, offsetS, fast, lambdaAt };
}

/** `join`: what vehicle.json says of it. */
export const twoLoggerCar = ({ ecu, wideband }: TwoLogs, join: string): string => `=== vehicle.json
{ "tables": { "fuel": "ve.table.csv" }${join} }
=== ve.table.csv
${SAMPLE_TABLE}=== ecu.session.csv
${ecu}=== wideband.session.csv
${wideband}`;
