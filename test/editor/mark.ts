// Begins each line the suite prints: invisible, because a desktop editor prints its lines as they are.
export const mark = '\u200b';
