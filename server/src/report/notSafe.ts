// What still puts the engine at risk in the sessions after a change, in a sentence: no change of a table has worked while that is so.

import { formatNumber } from '../quantities/format.js';
import type { Finding } from '../findings/finding.js';
import { ENGINE, firstOf, isOfEngine, wordsOf } from './verdictWords.js';

export interface FoundIn {
  readonly file: string;
  readonly findings: readonly Finding[];
}

/** Where and how bad: `drive.session.csv at 82.8 s, λ 0.87 for λ 0.80, 6816 rpm, 162 kPa`. */
const worstText = (file: string, { timeS, data }: Finding): string => {
  const lambda = (key: string): string | undefined => (typeof data?.[key] === 'number' ? `λ ${formatNumber(data[key], 2)}` : undefined);
  const [measured, target] = [lambda('lambda'), lambda('target')];
  return [`${file}${timeS ? ` at ${formatNumber(timeS[0], 1)} s` : ''}`, measured && target && `${measured} for ${target}`, data?.where]
    .filter((part) => typeof part === 'string')
    .join(', ');
};

/** Undefined where no session holds an error of the engine. */
export function notSafeWords(sessions: readonly FoundIn[]): string | undefined {
  const errors = sessions.flatMap(({ file, findings }) =>
    findings.filter((finding) => finding.severity === 'error' && isOfEngine(finding)).map((finding) => ({ file, finding })),
  );
  if (errors.length === 0) return undefined;
  // What the engine did before what a sensor could not show.
  errors.sort((a, b) => Number(ENGINE.has(b.finding.code)) - Number(ENGINE.has(a.finding.code)));
  const kinds = [...new Set(errors.map(({ finding }) => wordsOf(finding)))].map((words) => {
    const alike = errors.filter(({ finding }) => wordsOf(finding) === words);
    const [worst] = [...alike].sort((a, b) => Number(b.finding.data?.byLambda ?? 0) - Number(a.finding.data?.byLambda ?? 0));
    return `${words} (${worstText(worst.file, worst.finding)}${alike.length > 1 ? `; and ${alike.length - 1} more` : ''})`;
  });
  return `The engine is still not safe: ${kinds.join('; ')}. No full throttle there until ${firstOf(errors.map(({ finding }) => finding)).join(', and until ')}.`;
}
