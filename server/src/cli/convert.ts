// `leanspot convert`: one value in every related unit.

import type { Command } from 'commander';
import { convertText } from '../quantities/convertText.js';
import { Failure } from './failure.js';
import { tell, write } from './output/write.js';

export function registerConvert(program: Command): void {
  program
    .command('convert')
    .summary('one value in every related unit')
    .description('Shows one value in every related unit: lambda, AFR and φ for a fuel; pressures absolute and gauge; and the rest.')
    .argument('<value>', 'a number; a decimal comma is read too')
    .argument('<unit>', 'for example lambda, AFR, "AFR E85", phi, kPa, "psi gauge", °F, lb/min, cc/min')
    .option('--fuel <blend>', "fuel in the tank: E0 to E100 or a fuel's name")
    .option('--to <unit>', 'only this unit')
    .option('--verbose', 'show details where something goes wrong inside Leanspot')
    .addHelpText(
      'after',
      `
Examples:
  leanspot convert 0.82 lambda --fuel E85
  leanspot convert 11.5 AFR --to lambda
  leanspot convert 14 "psi gauge"
  leanspot convert 650 cc/min --fuel E10`,
    )
    .action(convert);
}

/**
 * The value as read, a line for each related unit, then what was assumed. With `--to` the one value alone; its assumptions go to standard
 * error.
 */
function convert(value: string, unit: string, { fuel, to }: { fuel?: string; to?: string }): void {
  const answer = convertText({ value, unit, fuel, to });
  if (!answer.ok) throw new Failure(answer.error.replace(/\.$/, ''));
  const rows = answer.values.map((each) => [significant(each.value), each.unit.symbol] as const);
  if (to !== undefined) {
    write(rows.map((row) => `${row.join(' ')}\n`).join(''));
    for (const note of answer.notes) tell(`${note}\n`);
    return;
  }
  const width = Math.max(...rows.map(([number]) => number.length));
  write(
    [
      `${value.trim()} ${answer.unit.symbol}`,
      ...rows.map(([number, symbol]) => `  ${number.padStart(width)}  ${symbol}`),
      ...answer.notes,
    ].join('\n') + '\n',
  );
}

/** Six significant digits, no needless zeros: more than any sensor is worth, so that nothing is lost on the way. */
const significant = (value: number): string => String(Number(value.toPrecision(6)));
