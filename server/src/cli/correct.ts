// `leanspot correct`: the table with the proven corrections applied, to a new file or in place with its earlier state kept.

import { Option, type Command } from 'commander';
import { fileExists, writeBytes } from '../disk/writeFile.js';
import { DEFAULT_MAX_CHANGE_PERCENT } from '../fueling/change/correct.js';
import { isFarLean } from '../findings/cellEvidence.js';
import { placeText } from '../formats/table/placeText.js';
import type { VehicleDocument } from '../formats/vehicle/vehicle.js';
import type { Evidence, LeftOut, Proof } from '../fueling/evidence.js';
import { vehicleFuel } from '../formats/vehicle/vehicleFuel.js';
import { HELD_WORDS } from '../fueling/doubts/gate.js';
import { contradictionWords, driftWords } from '../fueling/doubts/contradictionWords.js';
import { causeFirst, LEFT_OUT_WORDS } from '../fueling/doubts/leftOutWords.js';
import { commonCause, commonCauseWords } from '../fueling/doubts/commonCause.js';
import { unreadWords } from '../fueling/doubts/unread.js';
import { CAUTIONS, edited, planCorrection, type FileChange, type PlannedCorrection } from '../service/correction.js';
import { rewritten } from '../service/text.js';
import { pathOf } from '../disk/diskWorkspace.js';
import { Failure } from './failure.js';
import { coloured, counted, visible } from './output/words.js';
import { write } from './output/write.js';
import { wantFolderOf } from './paths.js';
import { fromWorkingFolder } from './places.js';
import { openTable, sessionsFor, tellUnheard, type TableInput } from './tableInput.js';
import { weighWithBar } from './weigh.js';

interface CorrectOptions {
  readonly sessions?: string[];
  readonly maxChange: number;
  readonly output?: string;
  readonly write?: true;
  readonly vehicle?: string;
}

export function registerCorrect(program: Command): void {
  program
    .command('correct')
    .summary('the table with the proven corrections applied')
    .description(
      'Applies what the sessions prove to a fuel table: no cell further than proven, none by more than --max-change, everything else untouched.',
    )
    .argument('<table>', 'a fuel table')
    .option('--sessions <glob...>', "sessions to weigh, instead of the vehicle's")
    .addOption(
      new Option('--max-change <percent>', 'most that one step may change a cell').default(DEFAULT_MAX_CHANGE_PERCENT).argParser(percent),
    )
    .option('--output <file>', 'write the corrected table to a new file')
    .addOption(
      new Option(
        '--write',
        'change the table in place; its earlier state is kept under tables/history and the sessions are pinned to it',
      ).conflicts('output'),
    )
    .option('--vehicle <file>', 'vehicle file, instead of the nearest vehicle.json above the table')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Caution: ${CAUTIONS}

Examples:
  leanspot correct tables/ve.table.csv --output ve-next.table.csv
  leanspot correct tables/ve.table.csv --max-change 5 --write`,
    )
    .action(correctTable);
}

function percent(text: string): number {
  const value = Number(text.replace(/%$/, ''));
  if (!(value > 0 && value <= 25)) throw new Failure(`--max-change wants a number of per cent above 0, up to 25, not "${text}"`);
  return value;
}

async function correctTable(path: string, options: CorrectOptions): Promise<void> {
  if (options.output === undefined && !options.write)
    throw new Failure('say where the corrected table goes: --output FILE, or --write to change it in place');
  if (options.output !== undefined && fileExists(options.output))
    throw new Failure(`${options.output} is there already: name a new file, nothing is overwritten`);
  if (options.output !== undefined) wantFolderOf(options.output);
  const input = await openTable(path, options.vehicle);
  const sessions = await sessionsFor(input, options.sessions);
  await tellUnheard(input, sessions);
  const {
    workspace,
    service: { documents, weigher },
  } = input;
  await weighWithBar(sessions, (progress) => weigher.evidenceOf(input.uri, sessions, progress));
  const plan = await planCorrection(workspace, documents, weigher, input.uri, { maxChangePercent: options.maxChange }, sessions);
  if (!plan) throw new Failure(`${path} went away meanwhile`);
  const { evidence } = plan;
  if (evidence.refused !== undefined) throw new Failure(`nothing is corrected: ${path} ${evidence.refused}`);
  const vehicle = (await documents.vehicleFolder(input.uri))?.document,
    taken = tellTaken(evidence),
    lean = leanCells(plan, vehicle);
  const leanLines = lean.length > 0 ? [coloured.red(`${LEAN_WORDS} (column / row, 95 %):`), ...lean.map((line) => `  ${line}`)] : [];
  if (plan.edits.length === 0) {
    const held = [...causeLines(plan, vehicle), ...contradictionLines(plan), ...heldLines(plan)];
    if (plan.correction.held.length > 0 || evidence.contradiction || evidence.drift)
      throw new Failure(
        [
          ...(lean.length > 0 ? [`${LEAN_WORDS}: ${lean.join(', ')}`] : []),
          ...held,
          ...unreadOf(evidence.sessions.filter(({ doubts = [] }) => doubts.length > 0)),
        ].join('; '),
      );
    if (evidence.sessions.every(({ used }) => used === 0)) throw new Failure(await unseenText(input, sessions, evidence, path));
    if (options.output !== undefined) await writeCopy(input, plan, options.output);
    write(
      `${nothingText(plan, path)}${options.output === undefined ? '' : ` ${options.output} is an unchanged copy.`}\n${[...causeFirst(plan.evidence.sessions), ...leanLines, ...taken].map((line) => `${line}\n`).join('')}`,
    );
    return;
  }
  if (options.write && plan.obstacle !== undefined)
    throw new Failure(`${path} is not changed: ${plan.obstacle} (--output FILE writes a new table instead)`);
  const written = options.write ? await writeInPlace(input, plan) : await writeCopy(input, plan, options.output!);
  write(
    `${[report(plan, path, vehicle), ...leanLines, ...taken].join('\n')}\n${written.map((each) => `Wrote ${each}`).join('\n')}\n\nCaution: ${CAUTIONS}\n`,
  );
}

/** Why no session says anything of the table. */
async function unseenText(
  { uri, service: { weigher } }: TableInput,
  sessions: readonly string[],
  evidence: Evidence,
  path: string,
): Promise<string> {
  for (const session of sessions)
    if (await weigher.madeTheTable(session, uri))
      return `log again first: ${path} was corrected by these sessions already ("# corrected-from" in it)`;
  return `nothing is corrected: no reading is evidence on ${path}${leftOutText(evidence)}`;
}

async function writeCopy(input: TableInput, { edits, note }: PlannedCorrection, output: string): Promise<string[]> {
  writeBytes(output, await bytesAfter(input, { kind: 'edit', uri: input.uri, edits: note ? [note, ...edits] : edits }), { isNew: true });
  return [output];
}

/** Earlier state first, then the pins, the table last: whatever stops it half-way, nothing is lost. */
async function writeInPlace(input: TableInput, { changes }: PlannedCorrection): Promise<string[]> {
  const files: [string, Uint8Array, boolean][] = [];
  for (const change of changes) files.push([pathOf(change.uri)!, await bytesAfter(input, change), change.kind === 'create']);
  for (const [file, bytes, isNew] of files) writeBytes(file, bytes, { isNew });
  return changes.map(({ uri }) => fromWorkingFolder(uri));
}

/** A file's bytes with a change made, in the form (encoding and mark) that the file has; a kept table has the form of the table. */
async function bytesAfter({ workspace, uri }: TableInput, change: FileChange): Promise<Uint8Array> {
  const of = change.kind === 'create' ? uri : change.uri;
  const source = await workspace.open(of);
  if (!source) throw new Failure(`${fromWorkingFolder(of)} went away meanwhile`);
  const bytes = rewritten(source, (text) => (change.kind === 'create' ? change.text : edited(text, change.edits)));
  if (!bytes)
    throw new Failure(
      `${fromWorkingFolder(of)} cannot be written again without loss (it is too long, or not all of it is text); nothing is changed`,
    );
  return bytes;
}

const unreadOf = (sessions: Evidence['sessions']): string[] =>
  [...new Set(sessions.flatMap((session) => unreadWords(session) ?? []))].map(visible);

/** What was taken for granted of the sessions, and which columns nobody looked at, each once. */
const tellTaken = ({ sessions }: Evidence): string[] =>
  [
    ...[...new Set(sessions.flatMap(({ assumed }) => assumed))].map((words) => `Taken for granted: ${words}.`),
    ...unreadOf(sessions).map((words) => `${words[0].toUpperCase()}${words.slice(1)}.`),
  ].map(coloured.dim);

/** Nothing is to be changed: all is proven to be right, too little is proven, or the last decimal has no room. */
function nothingText({ evidence, correction: { left } }: PlannedCorrection, path: string): string {
  const below = left.belowLastDecimal,
    count = (proof: Proof): number => evidence.cells.filter((cell) => cell.proof === proof).length,
    firm = count('firm');
  if (below > 0)
    return `Nothing to correct: what ${counted(below, 'cell')} of ${path} ${below === 1 ? 'is' : 'are'} proven to be off is less than the last decimal written there.`;
  return `Nothing to correct: no cell of ${path} is proven to be off its target. ${firm > 0 ? `${counted(firm, 'cell')} proven to be right, ` : 'None is proven at all: '}${count('thin')} with thin evidence, ${count('none')} never driven${leftOutText(evidence)}.`;
}

/** `; readings left out: 6220 engine off, 12 overrun`. */
function leftOutText({ sessions }: Evidence): string {
  const sums = new Map<LeftOut, number>();
  for (const { leftOut } of sessions)
    for (const [why, count] of Object.entries(leftOut) as [LeftOut, number][]) sums.set(why, (sums.get(why) ?? 0) + count);
  return sums.size === 0
    ? ''
    : `; readings left out: ${[...sums]
        .sort((a, b) => b[1] - a[1])
        .map(([why, count]) => `${count} ${LEFT_OUT_WORDS[why]}`)
        .join(', ')}`;
}

const LEAN_WORDS = 'Short of fuel under load, and not corrected here: no more pulls there until fuel pressure and the sensor are checked';

/**
 * Loaded cells that are short of fuel as far as they are known, and that no correction touches, the shortest first: `4000 / 180: 4.3 to
 * 10.5 % more wanted`.
 */
function leanCells({ evidence, table, correction: { cells } }: PlannedCorrection, vehicle: VehicleDocument | undefined): string[] {
  const lean = evidence.cells.filter(
    (cell) => isFarLean({ table, vehicle, evidence }, cell) && !cells.some(({ row, column }) => row === cell.row && column === cell.column),
  );
  const percent = (factor: number): string => ((factor - 1) * 100).toFixed(1);
  return shortened(
    lean
      .sort((a, b) => b.factorLow - a.factorLow)
      .map(
        ({ row, column, factorLow, factorHigh }) =>
          `${placeText(table, row, column)}: ${percent(factorLow)} to ${percent(factorHigh)} % more wanted`,
      ),
  );
}

/** For each reason the cells that stay as they are: `log again first: …: 4000 / 210, 4500 / 210`. */
function heldLines({ correction: { held }, table }: PlannedCorrection): string[] {
  return [...new Set(held.map(({ why }) => why))].map(
    (why) =>
      `${HELD_WORDS[why]}: ${shortened(held.filter((cell) => cell.why === why).map(({ row, column }) => placeText(table, row, column))).join(', ')}`,
  );
}

/** What the proven cells have in common. */
function causeLines({ evidence, table }: PlannedCorrection, vehicle: VehicleDocument | undefined): string[] {
  const cause = commonCause(table, evidence);
  return cause ? [commonCauseWords(cause, vehicle && vehicleFuel(vehicle.vehicle))] : [];
}

/** Where sessions contradict each other, and that nothing is corrected there. */
const contradictionLines = ({ evidence, table }: PlannedCorrection): string[] =>
  [contradictionWords, driftWords].flatMap((words) => words(evidence, table, fromWorkingFolder) ?? []);

const MOST_TOLD = 8;

/** The first of many, and how many more there are. */
const shortened = (texts: readonly string[]): string[] =>
  texts.length <= MOST_TOLD + 1 ? [...texts] : [...texts.slice(0, MOST_TOLD), `and ${texts.length - MOST_TOLD} more`];

function report(plan: PlannedCorrection, path: string, vehicle: VehicleDocument | undefined): string {
  const {
    correction: { cells, left },
    table,
  } = plan;
  const lines = cells.map(({ row, column, oldText, newText, percent, capped, evidence: { factorLow, factorHigh } }) => {
    const change = `${percent > 0 ? '+' : '−'}${Math.abs(percent).toFixed(1)} %`;
    return `  ${placeText(table, row, column)}: ${oldText} → ${newText}, ${change}${capped ? ' (one step; more is proven)' : ''}  ${coloured.dim(`95 % between ×${factorLow.toFixed(3)} and ×${factorHigh.toFixed(3)}`)}`;
  });
  const rest = [
    left.withinUncertainty > 0 ? `${left.withinUncertainty} proven to be right as they are` : '',
    left.notProven > 0 ? `${left.notProven} not proven` : '',
    left.belowLastDecimal > 0 ? `${left.belowLastDecimal} off by less than the last decimal written there` : '',
  ]
    .filter(Boolean)
    .join(', ');
  // What comes before the table stands before what was changed in it.
  return [
    ...causeLines(plan, vehicle).map(coloured.red),
    `${counted(cells.length, 'cell')} of ${path} corrected (column / row):`,
    ...lines,
    ...(rest ? [`Left as they are: ${rest}.`] : []),
    ...causeFirst(plan.evidence.sessions),
    ...contradictionLines(plan),
    ...heldLines(plan).map((line) => `Not corrected: ${line}.`),
  ].join('\n');
}
