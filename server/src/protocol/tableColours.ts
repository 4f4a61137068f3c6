// The scale on which a cell's factor is drawn, one for the editor's picture of a table and for the report's.
// Seven classes of PuOr by Cynthia Brewer (Harrower and Brewer, ColorBrewer.org, The Cartographic Journal 40, 2003, 27–37), a diverging
// scale made for colour-blind readers; each step is said in words and numbers as well.

/** From the leanest (needs more) to the richest (needs less). */
export const PU_OR = ['#b35806', '#f1a340', '#fee0b6', '#f7f7f7', '#d8daeb', '#998ec3', '#542788'] as const;

/**
 * Changes from so much on take the next step, per cent. Below the first nothing is worth a change: readings do not repeat closer. Common
 * practice, no source.
 */
export const FACTOR_STEPS_PERCENT = [1, 3, 8] as const;

export type Step = -3 | -2 | -1 | 0 | 1 | 2 | 3;

/** The step that a size has reached, on its side. */
export function stepOf(size: number, from: readonly [number, number, number]): Step {
  const reached = from.filter((limit) => Math.abs(size) >= limit).length;
  return (reached === 0 ? 0 : Math.sign(size) * reached) as Step;
}
