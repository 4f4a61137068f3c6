// Findings as JSON, the public contract (schema 1).

import type { Finding } from '../../findings/finding.js';
import { awake, type Writer } from '../check.js';
import type { Place } from '../places.js';
import { jsonText, write } from './write.js';

/**
 * Writes `{ schema, findings, sessions }`, each finding as it comes. Where the paths lie in more than one vehicle folder, each entry also
 * has `vehicle`, the folder its `file` is relative to; with a baseline, `resting` counts the findings left out.
 */
export function jsonWriter(places: readonly Place[]): Writer {
  const several = new Set(places.map(({ vehicle }) => vehicle)).size > 1;
  const where = ({ file, vehicle }: Place): { file: string; vehicle?: string } =>
    several && vehicle !== undefined ? { file, vehicle } : { file };
  const sessions: object[] = [];
  let told = 0;
  const begin = `{\n "schema": 1,\n "findings": [`;
  return {
    add(file) {
      const { place, session } = file;
      if (session) sessions.push({ ...where(place), ...session });
      const texts = awake(file).map((finding) => inList(findingJson(finding, where(place))));
      if (texts.length === 0) return;
      write(`${told === 0 ? begin : ','}${texts.join(',')}`);
      told += texts.length;
    },
    end({ rest }) {
      write(
        `${told === 0 ? begin : '\n '}],\n "sessions": [${sessions.map(inList).join(',')}${sessions.length === 0 ? '' : '\n '}]${rest ? `,\n "resting": ${rest.resting}` : ''}\n}\n`,
      );
    },
  };
}

/** As it stands in a list of the whole. */
const inList = (value: object): string => `\n${jsonText(value)}`.replaceAll('\n', '\n  ');

const findingJson = (
  { code, severity, range, message, channel, timeS, data }: Finding,
  where: { file: string; vehicle?: string },
): object => ({
  code,
  severity,
  ...where,
  range,
  message,
  channel,
  time: timeS?.map(toMilliseconds),
  data: data ?? {},
});

const toMilliseconds = (seconds: number): number => Math.round(seconds * 1000) / 1000;
