// Small sessions as text for the rules' samples: a column is a formula of time. Slow and short, so that a page can show them.

/** A session text: `columns` maps each header to its value at a time (undefined is an empty cell). */
export const sampleLog = (
  seconds: number,
  stepS: number,
  columns: Readonly<Record<string, (timeS: number) => number | undefined>>,
  digits = 3,
): string => {
  const lines = [['time (s)', ...Object.keys(columns)].join(',')];
  for (let k = 0; k * stepS < seconds - 1e-9; k++) {
    const timeS = Math.round(k * stepS * 1000) / 1000;
    lines.push(
      [
        timeS,
        ...Object.values(columns).map((at) => {
          const value = at(timeS);
          return value === undefined ? '' : Number(value.toFixed(digits));
        }),
      ].join(','),
    );
  }
  return `${lines.join('\n')}\n`;
};

/** The unrest of a live reading, always the same: about ±`size`, without a period that a log's rate could meet. */
export const unrest = (timeS: number, size: number): number =>
  (size * (Math.sin(timeS * 71.3) + Math.sin(timeS * 43.7 + 1) + Math.sin(timeS * 113.9 + 2))) / 2;

/** A pull from 2 s on: idle, then full throttle through the speed range to 8 s, then idle again. */
export const pullColumns = (boostKPa = 170): Record<string, (timeS: number) => number> => {
  const open = (t: number): boolean => t >= 2 && t < 8;
  const ramp = (t: number, overS: number): number => Math.min(1, Math.max(0, (t - 2) / overS));
  return {
    'engine speed (rpm)': (t) => (open(t) ? 2200 + 700 * (t - 2) : t < 2 ? 1900 : 2600) + unrest(t, 8),
    'throttle (%)': (t) => (open(t) ? 100 : 12) + unrest(t, 0.3) * (open(t) ? 0 : 1),
    'manifold pressure (kPa)': (t) => (open(t) ? 100 + (boostKPa - 100) * ramp(t, 1.5) : 45) + unrest(t, 0.6),
    'target lambda': (t) => (open(t) ? 0.84 : 1),
  };
};
