// Findings that are known and rest: what makes a finding the same one later, a list of such that can be kept under version control, and the
// match of both.

import { cellPlace } from '../findings/cellPlace.js';
import type { Finding, FindingCode, Severity } from '../findings/finding.js';
import type { Table } from '../formats/table/table.js';

/** What stays of a finding while rows are added above it and its numbers move a little. */
export interface Identity {
  readonly code: FindingCode;
  readonly severity: Severity;
  readonly channel?: string;
  /** Of a table's cell: its breakpoints, in words. */
  readonly place?: string;
  /** Of a cell that is off its target: by how many per cent at least (the near end of its interval). */
  readonly offPercent?: number;
  /** Of a session's spell: where it begins, seconds from the session's start. */
  readonly timeS?: number;
  /** Of any other: the first sentence, numbers left out. */
  readonly words?: string;
}

export interface RestingFinding extends Identity {
  /** The file's path from the baseline's folder, with `/`. */
  readonly file: string;
}

export interface Baseline {
  readonly findings: readonly RestingFinding[];
}

/** A spell that begins within this of the one written down is that one. Far below the distance of two pulls; no source. */
const SAME_SPELL_S = 2;

/** A cell that is off by so many per cent more than it was is another finding: what is promised of a proven cell. */
const WORSE_PERCENT = 3;

const SEVERITIES: readonly Severity[] = ['error', 'warning', 'information', 'hint'];

/** `table`: the one that the finding is of, if it is of a table. */
export function identityOf({ code, severity, channel, timeS, data, message }: Finding, table?: Table): Identity {
  const { row, column } = data ?? {};
  const what =
    table && typeof row === 'number' && typeof column === 'number'
      ? { place: cellPlace(table, row, column), ...offOf(data!) }
      : timeS
        ? { timeS: Math.round(timeS[0] * 100) / 100 }
        : { words: wordsOf(message) };
  return { code, severity, ...(channel === undefined ? {} : { channel }), ...what };
}

const offOf = ({ factorLow, factorHigh }: Record<string, unknown>): { offPercent?: number } =>
  typeof factorLow === 'number' && typeof factorHigh === 'number'
    ? { offPercent: Math.max(0, Math.round(100 * Math.max(factorLow - 1, 1 - factorHigh))) }
    : {};

/** The first sentence without its numbers. */
export const wordsOf = (message: string): string => message.split(/[.;](?:\s|$)/, 1)[0].replace(/[−-]?\d+(?:[.,]\d+)*/g, '#');

/**
 * Which findings rest: each entry of the baseline lets one finding rest, of the same file and kind, at the same cell or about the same
 * time, that is no worse than it was. Gives their indexes, and how many entries of these files (paths as in the baseline) are met by none
 * any more.
 */
export function restingOf(
  baseline: Baseline,
  found: readonly { readonly file: string; readonly identities: readonly Identity[] }[],
): { resting: Set<Identity>; mended: number } {
  const resting = new Set<Identity>();
  let mended = 0;
  for (const { file, identities } of found) {
    const entries = baseline.findings.filter((entry) => entry.file === file);
    const pairs = entries
      .flatMap((entry) =>
        identities.flatMap((identity) => {
          const awayS = distanceS(entry, identity);
          return awayS === undefined ? [] : [{ entry, identity, awayS }];
        }),
      )
      .sort((a, b) => a.awayS - b.awayS);
    const met = new Set<RestingFinding>();
    for (const { entry, identity } of pairs) {
      if (met.has(entry) || resting.has(identity)) continue;
      met.add(entry);
      resting.add(identity);
    }
    mended += entries.length - met.size;
  }
  return { resting, mended };
}

/** How far apart in time an entry and a finding are, 0 where time plays no part; undefined where they are not the same. */
function distanceS(entry: Identity, now: Identity): number | undefined {
  if (entry.code !== now.code || entry.channel !== now.channel || entry.place !== now.place || entry.words !== now.words) return undefined;
  if (SEVERITIES.indexOf(now.severity) < SEVERITIES.indexOf(entry.severity)) return undefined;
  if (entry.offPercent !== undefined && now.offPercent !== undefined && now.offPercent > entry.offPercent + WORSE_PERCENT) return undefined;
  if (entry.timeS === undefined || now.timeS === undefined) return entry.timeS === now.timeS ? 0 : undefined;
  const awayS = Math.abs(entry.timeS - now.timeS);
  return awayS <= SAME_SPELL_S ? awayS : undefined;
}

/** As text: the same for the same findings, one a line, so that a change of it reads well. */
export function baselineText(findings: readonly RestingFinding[]): string {
  const lines = findings.map(({ file, code, severity, channel, place, offPercent, timeS, words }) =>
    JSON.stringify({ file, code, severity, channel, place, offPercent, timeS, words }),
  );
  return `{\n "schema": 1,\n "findings": [${lines.length > 0 ? `\n  ${lines.sort().join(',\n  ')}\n ` : ''}]\n}\n`;
}

/** Undefined for a text that is no baseline. */
export function readBaseline(text: string): Baseline | undefined {
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch {
    return undefined;
  }
  const { schema, findings } = (json ?? {}) as { schema?: unknown; findings?: unknown };
  return schema === 1 && Array.isArray(findings) && findings.every(isEntry) ? { findings } : undefined;
}

function isEntry(entry: unknown): entry is RestingFinding {
  const { file, code, severity, channel, place, offPercent, timeS, words } = (entry ?? {}) as Record<string, unknown>;
  const textOrNone = (value: unknown): boolean => value === undefined || typeof value === 'string';
  return (
    typeof file === 'string' &&
    typeof code === 'string' &&
    SEVERITIES.includes(severity as Severity) &&
    [channel, place, words].every(textOrNone) &&
    [timeS, offPercent].every((value) => value === undefined || typeof value === 'number')
  );
}
