// The fuel table as a picture: each cell with its value, what the drives prove of it, and the proposal; colour says again what sign, number
// and hatching say.

import { FACTOR_STEPS_PERCENT, PU_OR, stepOf, type Step } from '../protocol/tableColours.js';
import type { CellEvidence } from '../fueling/evidence.js';
import type { WrittenCell } from '../service/correction.js';
import { html, px, type Markup } from './html.js';
import type { TableReport } from './model.js';
import { signed } from './verdict.js';

const WIDTH = 1040,
  HEAD = 62,
  CELL_HEIGHT = 44,
  TOP = 40;
/** Wider tables than this are no picture for a page. */
export const MOST_PICTURE_COLUMNS = 40;
const MOST_PICTURE_ROWS = 60;

const colourOf = (step: Step): string => PU_OR[3 - step];
/** Ink that reads on the step's colour (contrast of at least 4.5 to 1). */
const inkOf = (step: Step): string => (Math.abs(step) === 3 ? '#ffffff' : '#000000');

/** Undefined where the table is too large to be drawn. */
export function tablePicture({ table, evidence, proposal }: TableReport): Markup | undefined {
  const columns = table.columns.values.length,
    rows = table.values.length / columns;
  if (columns > MOST_PICTURE_COLUMNS || rows > MOST_PICTURE_ROWS) return undefined;
  const cellWidth = (WIDTH - HEAD) / columns,
    height = TOP + rows * CELL_HEIGHT + 4;
  const changed = new Map((proposal?.cells ?? []).map((cell) => [cell.row * columns + cell.column, cell]));
  const breakpoint = (value: number): string => (Number.isNaN(value) ? '' : String(value));
  const head = (axis: typeof table.columns): string =>
    [axis.quantity?.replaceAll('-', ' '), axis.unit?.symbol && `(${axis.unit.symbol})`].filter(Boolean).join(' ');
  return html`<svg class="table-picture" viewBox="0 0 ${WIDTH} ${px(height)}" role="img" aria-labelledby="picture-t picture-d"><title id="picture-t">The fuel table with proof and proposal</title><desc id="picture-d">${descriptionOf(evidence?.cells ?? [], changed.size)}</desc>
<defs><pattern id="thin" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="6" height="6" fill="#ffffff" fill-opacity="0.62"/><path d="M0 0V6" stroke="#595959" stroke-width="0.8"/></pattern></defs>
<text x="${px(HEAD + 2)}" y="12" class="head">${head(table.columns)} →</text><text x="2" y="${px(TOP - 6)}" class="head">${table.rows.unit?.symbol ?? head(table.rows)} ↓</text>
${Array.from({ length: columns }, (_, column) => html`<text x="${px(HEAD + (column + 0.5) * cellWidth)}" y="${px(TOP - 6)}" class="mid head">${breakpoint(table.columns.values[column])}</text>`)}
${Array.from({ length: rows }, (_, row) => html`<text x="${px(HEAD - 6)}" y="${px(TOP + (row + 0.5) * CELL_HEIGHT + 4)}" class="end head">${breakpoint(table.rows.values[row])}</text>`)}
${Array.from(table.values.keys()).map((at) => cellPicture(HEAD + (at % columns) * cellWidth, TOP + Math.floor(at / columns) * CELL_HEIGHT, cellWidth, table.cellText(Math.floor(at / columns), at % columns), evidence?.cells[at], changed.get(at)))}</svg>`;
}

function cellPicture(
  x: number,
  y: number,
  width: number,
  text: string,
  cell: CellEvidence | undefined,
  change: WrittenCell | undefined,
): Markup {
  const told = cell !== undefined && cell.proof !== 'none' && Number.isFinite(cell.factor);
  const percent = told ? 100 * (cell.factor - 1) : 0;
  const step = told ? stepOf(percent, FACTOR_STEPS_PERCENT) : 0;
  const firm = cell?.proof === 'firm';
  const ink = told && firm ? inkOf(step) : '#000000';
  const middle = px(x + width / 2);
  const box = html`<rect x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(CELL_HEIGHT)}" fill="${told ? colourOf(step) : '#ffffff'}" stroke="#8c8c8c" stroke-width="0.6"/>`;
  const hatch = told && !firm && html`<rect x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(CELL_HEIGHT)}" fill="url(#thin)"/>`;
  const frame =
    change &&
    html`<rect x="${px(x + 1.4)}" y="${px(y + 1.4)}" width="${px(width - 2.8)}" height="${px(CELL_HEIGHT - 2.8)}" fill="none" stroke="#000000" stroke-width="2.2"/>`;
  return html`<g fill="${ink}">${box}${hatch}${frame}<text x="${middle}" y="${px(y + 14)}" class="mid value">${text}</text>${told && html`<text x="${middle}" y="${px(y + 26)}" class="mid">${signed(percent)} %${firm ? '' : ' ?'}</text>`}${change && html`<text x="${middle}" y="${px(y + 38)}" class="mid value">→ ${change.newText}</text>`}</g>`;
}

function descriptionOf(cells: readonly CellEvidence[], changes: number): string {
  const firm = cells.filter(({ proof }) => proof === 'firm'),
    thin = cells.filter(({ proof }) => proof === 'thin').length;
  const lean = firm.filter(({ factor }) => factor >= 1.01).length,
    rich = firm.filter(({ factor }) => factor <= 0.99).length;
  return `${cells.length} cells: ${firm.length} proven, of which ${lean} are short of fuel and ${rich} have too much by 1 % or more; ${thin} with thin evidence; ${cells.length - firm.length - thin} never driven. A change is proposed for ${changes}; they are listed in the table below.`;
}

/** The scale beside the picture, in words. */
export function tableLegend(): Markup {
  const [one, two, three] = FACTOR_STEPS_PERCENT;
  const entries: readonly (readonly [Step, string])[] = [
    [3, `short of fuel by ${three} % or more`],
    [2, `short by ${two} to ${three} %`],
    [1, `short by ${one} to ${two} %`],
    [0, `right within ${one} %`],
    [-1, `too much by ${one} to ${two} %`],
    [-2, `too much by ${two} to ${three} %`],
    [-3, `too much by ${three} % or more`],
  ];
  return html`<ul class="legend">${entries.map(([step, words]) => html`<li><span class="swatch" style="background:${colourOf(step)}"></span>${words}</li>`)}
<li><span class="swatch hatched"></span>hatched, with “?”: thin evidence, not enough to act on</li><li><span class="swatch"></span>white, no number: never driven, nothing is known</li><li><span class="swatch framed"></span>framed, “→”: proposed value</li></ul>`;
}
