// Runs the rules over what was read, silences what the author silenced, keeps a noisy file to a handful, and puts the worst first.

import type { VehicleDocument } from '../formats/vehicle/vehicle.js';
import type { Signals } from '../signals/signals.js';
import type { Finding, FindingCode, Severity, TableSubject } from './finding.js';
import { RULES } from './registry.js';
import { moreText, withoutMore } from './spell.js';

const ORDER: readonly Severity[] = ['error', 'warning', 'information', 'hint'];

/** Findings of one code that are told one by one; the rest are counted in the last of them. */
const MOST_OF_A_CODE = 10;
/** Of a table nearly each cell is told; an editor shows no more of a file. */
const MOST_IN_A_TABLE = 1000;

/** Every finding of a session, worst first, then by place. `between` is called between the rules. */
export function sessionFindings(signals: Signals, between = (): void => undefined): Finding[] {
  const found = RULES.flatMap((rule) => {
    if (!rule.session) return [];
    between();
    return [...rule.session(signals)];
  });
  return settle(found, (finding) => signals.session.ignored.includes(finding.code));
}

/** What the reader noticed in rows, for a few rows read by themselves; nothing is judged. */
export const rowFindings = (signals: Signals): Finding[] => findingsOf(CODES_OF_ROWS, signals);

/** What the reader noticed in a whole session: the same findings as among all of it, known before anything is judged. */
export const readingFindings = (signals: Signals): Finding[] => findingsOf(CODES_OF_READING, signals);

function findingsOf(codes: ReadonlySet<string>, signals: Signals): Finding[] {
  const found = RULES.flatMap((rule) => (codes.has(rule.code) && rule.session ? [...rule.session(signals)] : []));
  return settle(found, (finding) => signals.session.ignored.includes(finding.code));
}

/** Findings that a row alone tells, by code and kind. */
export const OF_ROWS: ReadonlySet<string> = new Set([
  'value-not-a-number text',
  'value-not-a-number not-finite',
  'row-ragged too-few',
  'row-ragged too-many',
]);
const CODES_OF_ROWS: ReadonlySet<string> = new Set([...OF_ROWS].map((each) => each.split(' ')[0]));
const CODES_OF_READING: ReadonlySet<string> = new Set<FindingCode>([
  'value-not-a-number',
  'row-ragged',
  'header-duplicate',
  'unit-unknown',
  'channel-missing',
  'time-reversed',
  'time-gap',
  'time-repeated',
]);

/** Findings in the order in which they are told. */
export const worstFirst = (findings: readonly Finding[]): Finding[] => [...findings].sort(bySeverityThenPlace);

/** Every finding of a table, worst first, then by place. */
export function tableFindings(subject: TableSubject): Finding[] {
  const { table } = subject;
  const found = RULES.flatMap((rule) => (rule.table ? [...rule.table(subject)] : []));
  const inRow = ignoredByLine(subject);
  return settle(
    found,
    ({ code, range }) => table.ignored.includes(code) || inRow.get(range.start.line)?.includes(code) === true,
    MOST_IN_A_TABLE,
  );
}

/** Every finding of a vehicle file. */
export function vehicleFindings(document: VehicleDocument): Finding[] {
  const found = RULES.flatMap((rule) => (rule.vehicle ? [...rule.vehicle(document)] : []));
  return settle(found, () => false, 50);
}

/** Codes silenced behind a row, by the row's line. */
const ignoredByLine = ({ table }: TableSubject): ReadonlyMap<number, readonly string[]> =>
  new Map([...table.ignoredInRow].map(([row, codes]) => [table.cellRange(row, 0).start.line, codes]));

/** Silenced ones out, sorted, and no code more often than `most` times: what is left over is said, never dropped in silence. */
function settle(found: Finding[], silenced: (finding: Finding) => boolean, most = MOST_OF_A_CODE): Finding[] {
  const kept = found.filter((finding) => !silenced(finding)).sort(bySeverityThenPlace);
  const seen = new Map<FindingCode, Finding[]>();
  const positions = kept.map((finding) => {
    const alike = seen.get(finding.code);
    if (!alike) {
      seen.set(finding.code, [finding]);
      return 0;
    }
    return alike.push(finding) - 1;
  });
  const out: Finding[] = [];
  for (const [index, finding] of kept.entries()) {
    const alike = seen.get(finding.code)!;
    const position = positions[index];
    if (position < most - 1 || alike.length <= most) out.push(finding);
    else if (position === most - 1) {
      const more = alike.slice(most).reduce((sum, each) => sum + 1 + withoutMore(each.message).more, 0);
      out.push({ ...finding, message: `${finding.message} And ${more} more like this, none worse.`, data: { ...finding.data, more } });
    }
  }
  return moreBehindTheLast(out);
}

/** `And 3 more like it` stands behind the last of its kind in the order shown, wherever the rule had put it. */
function moreBehindTheLast(found: readonly Finding[]): Finding[] {
  const kindOf = ({ code, channel, data }: Finding): string => JSON.stringify([code, channel, data?.kind]);
  const counts = new Map<string, number>();
  const last = new Map<string, number>();
  found.forEach((finding, index) => {
    const kind = kindOf(finding);
    counts.set(kind, (counts.get(kind) ?? 0) + withoutMore(finding.message).more);
    last.set(kind, index);
  });
  return found.map((finding, index) => {
    const more = counts.get(kindOf(finding)) ?? 0;
    return more === 0
      ? finding
      : { ...finding, message: withoutMore(finding.message).message + moreText(last.get(kindOf(finding)) === index ? more : 0) };
  });
}

function bySeverityThenPlace(a: Finding, b: Finding): number {
  return (
    ORDER.indexOf(a.severity) - ORDER.indexOf(b.severity) ||
    a.range.start.line - b.range.start.line ||
    a.range.start.character - b.range.start.character
  );
}
