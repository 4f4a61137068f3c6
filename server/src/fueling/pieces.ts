// Long work in pieces: a generator that stops between them, done at once, or with a breath for others at each stop.

export type InPieces<T> = Generator<undefined, T, undefined>;

export const atOnce = <T>(work: InPieces<T>, between = (): void => undefined): T => {
  for (let piece = work.next(); ; piece = work.next()) {
    if (piece.done) return piece.value;
    between();
  }
};

export const breathing = async <T>(work: InPieces<T>, breathe: () => Promise<void>): Promise<T> => {
  for (let piece = work.next(); ; piece = work.next()) {
    if (piece.done) return piece.value;
    await breathe();
  }
};
