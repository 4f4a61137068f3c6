// What is compiled for a class is thrown away with the last object of it, and made anew for the next session: one that stays keeps it.

const stayed: object[] = [];

/** Keeps an object, a small one, for good. */
export const stays = (one: object): void => void stayed.push(one);
