// Findings as SARIF 2.1.0 (OASIS), for code hosts and reviewers' tools.

import { createHash } from 'node:crypto';
import type { Finding, Rule, Severity } from '../../findings/finding.js';
import { RULES } from '../../findings/registry.js';
import type { Range } from '../../formats/range.js';
import type { Checked, Outcome, Writer } from '../check.js';
import { wordsOf, type Identity } from '../../service/baseline.js';
import { fromWorkingFolder } from '../places.js';
import { VERSION } from '../../protocol/version.js';
import { jsonText, write } from './write.js';

const LEVELS: Readonly<Record<Severity, 'error' | 'warning' | 'note'>> = {
  error: 'error',
  warning: 'warning',
  information: 'note',
  hint: 'note',
};

/** Code hosts refuse longer lists; what is left out is said in a notification. */
const MOST_RESULTS = 5000;

const WORST_FIRST: readonly Severity[] = ['error', 'warning', 'information', 'hint'];

export function sarifWriter(): Writer {
  const { add, log } = sarifRun();
  return { add, end: (outcome) => write(`${jsonText(log(outcome))}\n`) };
}

/**
 * One run. Findings that rest are told as suppressed. Results are the worst first, so that none of the worst is left out; more of a kind
 * than a list may hold are only counted.
 */
export function sarifRun(): { add(file: Checked): void; log(outcome: Outcome): object } {
  const results: Record<Severity, object[]> = { error: [], warning: [], information: [], hint: [] };
  let all = 0;
  return {
    add(file) {
      const printOf = fingerprints(file.path);
      for (const [finding, identity] of inPlaceOrder(file)) {
        const print = printOf(finding, identity);
        all++;
        if (results[finding.severity].length < MOST_RESULTS)
          results[finding.severity].push({
            ...resultOf(file, finding, print),
            ...(file.rest ? stateOf(file.rest.resting.has(identity), file.rest.path) : {}),
          });
      }
    },
    log: (outcome) =>
      logOf(
        WORST_FIRST.flatMap((severity) => results[severity]),
        all,
        outcome,
      ),
  };
}

function logOf(results: readonly object[], all: number, { failures }: Outcome): object {
  const left = all - MOST_RESULTS;
  const notifications = [
    ...failures.map((text) => ({ level: 'error', message: { text } })),
    ...(left > 0
      ? [
          {
            level: 'warning',
            message: { text: `${left} more findings are left out, none worse than those told; check fewer files at once.` },
          },
        ]
      : []),
  ];
  return {
    $schema: 'https://json.schemastore.org/sarif-2.1.0.json',
    version: '2.1.0',
    runs: [
      {
        tool: { driver: { name: 'leanspot', version: VERSION, semanticVersion: VERSION, rules: RULES.map(ruleOf) } },
        columnKind: 'utf16CodeUnits',
        originalUriBaseIds: { ROOT: { description: { text: 'The folder that the check was run in.' } } },
        invocations: [
          {
            executionSuccessful: failures.length === 0,
            ...(notifications.length > 0 ? { toolExecutionNotifications: notifications } : {}),
          },
        ],
        results: results.slice(0, MOST_RESULTS),
      },
    ],
  };
}

function ruleOf({ code, docs }: Rule): object {
  const text = `${docs.meaning}\n\nHow it is computed: ${docs.computed}\n\nUsual causes: ${docs.causes.join('; ')}\n\nCheck first: ${docs.checkFirst}`;
  return { id: code, shortDescription: { text: docs.title }, fullDescription: { text: docs.meaning }, help: { text, markdown: text } };
}

/** So that the count among equals does not hang on how bad each is. */
const inPlaceOrder = ({ findings, identities }: Checked): (readonly [Finding, Identity])[] =>
  findings
    .map((finding, index) => [finding, identities[index]] as const)
    .sort(
      (
        [
          {
            range: { start: a },
          },
        ],
        [
          {
            range: { start: b },
          },
        ],
      ) => a.line - b.line || a.character - b.character,
    );

/** What rests is in the baseline, and no alarm (SARIF 3.27.24, 3.27.23). */
const stateOf = (rests: boolean, path: string): object =>
  rests
    ? { baselineState: 'unchanged', suppressions: [{ kind: 'external', justification: `It rests in ${path}.` }] }
    : { baselineState: 'new' };

function resultOf(file: Checked, finding: Finding, print: string): object {
  const { code, severity, message, range, related = [], channel, timeS } = finding;
  const ruleIndex = RULES.findIndex((rule) => rule.code === code);
  return {
    ruleId: code,
    ...(ruleIndex >= 0 ? { ruleIndex } : {}),
    level: LEVELS[severity],
    message: { text: message },
    locations: [{ physicalLocation: placeOf(file.path, range) }],
    ...(related.length > 0
      ? {
          relatedLocations: related.map((other, id) => ({
            id,
            message: { text: other.message },
            physicalLocation: placeOf(other.file === undefined ? file.path : fromWorkingFolder(other.file), other.range),
          })),
        }
      : {}),
    partialFingerprints: { 'finding/v1': print },
    properties: { ...(channel === undefined ? {} : { channel }), ...(timeS === undefined ? {} : { time: timeS }) },
  };
}

/** Lines and columns count from 1 in SARIF; its end is exclusive as ours is. */
const placeOf = (path: string, { start, end }: Range): object => ({
  artifactLocation: { uri: path.split('/').map(encodeURIComponent).join('/'), uriBaseId: 'ROOT' },
  region: { startLine: start.line + 1, startColumn: start.character + 1, endLine: end.line + 1, endColumn: end.character + 1 },
});

/**
 * The same finding keeps its print while lines move above it and its numbers shift a little: a cell by its breakpoints, whatever else by
 * its words; those that are alike even so are counted in their order.
 */
function fingerprints(path: string): (finding: Finding, identity: Identity) => string {
  const seen = new Map<string, number>();
  return ({ code, channel, message }, { place }) => {
    const words = [code, path, channel ?? '', place ?? wordsOf(message)].join('\n');
    const count = (seen.get(words) ?? 0) + 1;
    seen.set(words, count);
    return createHash('sha256')
      .update(count === 1 ? words : `${words}\n${count}`)
      .digest('hex')
      .slice(0, 32);
  };
}
