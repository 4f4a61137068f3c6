// Findings as JSON, the public contract (schema 1).

import type { Finding } from '../../findings/finding.js';
import { awake, type Checked, type Outcome } from '../check.js';
import { jsonText, write } from './write.js';

/** Writes `{ schema, findings, sessions }`. Where the paths lie in more than one vehicle folder, each entry also has `vehicle`, the folder its `file` is relative to; with a baseline, `resting` counts the findings left out. */
export function writeJson(checked: readonly Checked[], { rest }: Outcome): void {
  const several = new Set(checked.map(({ place }) => place.vehicle)).size > 1;
  const where = ({ place }: Checked): { file: string; vehicle?: string } =>
    (several && place.vehicle !== undefined ? { file: place.file, vehicle: place.vehicle } : { file: place.file });
  const findings = checked.flatMap((file) => awake(file, rest).map((finding) => findingJson(finding, where(file))));
  const sessions = checked.flatMap((file) => (file.session ? [{ ...where(file), ...file.session }] : []));
  write(`${jsonText({ schema: 1, findings, sessions, resting: rest?.resting.size })}\n`);
}

const findingJson = ({ code, severity, range, message, channel, timeS, data }: Finding, where: { file: string; vehicle?: string }): object => ({
  code, severity, ...where, range, message, channel, time: timeS?.map(toMilliseconds), data: data ?? {},
});

const toMilliseconds = (seconds: number): number => Math.round(seconds * 1000) / 1000;
