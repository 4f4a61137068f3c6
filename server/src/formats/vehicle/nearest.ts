// What somebody meant to write: the nearest of the known words.

/** Edits (put in, leave out, exchange, swap neighbours) from one text to the other. */
const editDistance = (a: string, b: string): number => {
  const rows: number[][] = [Array.from({ length: b.length + 1 }, (_, j) => j)];
  for (let i = 1; i <= a.length; i++) {
    const row = [i];
    for (let j = 1; j <= b.length; j++) {
      row[j] = Math.min(row[j - 1] + 1, rows[i - 1][j] + 1, rows[i - 1][j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1));
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) row[j] = Math.min(row[j], rows[i - 2][j - 2] + 1);
    }
    rows.push(row);
  }
  return rows[a.length][b.length];
};

/** The known word that is at most a third of its letters away, case left aside; undefined where there is none. */
export const nearest = (text: string, known: readonly string[]): string | undefined => {
  if (text.length > 60) return undefined;
  const away = known
    .map((word) => ({ word, distance: editDistance(text.toLowerCase(), word.toLowerCase()) }))
    .sort((a, b) => a.distance - b.distance)[0];
  return away && away.distance <= Math.max(1, Math.floor(away.word.length / 3)) ? away.word : undefined;
};
