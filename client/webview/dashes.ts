// How lines are told apart besides their colours.

/** Solid, dashed, dotted, dash-dot, long: in CSS pixels. */
export const DASHES: readonly (readonly number[])[] = [[], [7, 4], [2, 3], [9, 3, 2, 3], [14, 4]];
