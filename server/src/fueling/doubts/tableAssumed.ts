// What is taken for granted of a session that does not say which table the engine ran.

import type { Evidence } from '../evidence.js';

/** Among what a session's weighing assumed. */
export const TABLE_ASSUMED =
  'nothing says which table was in the engine computer ("loggedWith" in vehicle.json, or a note "# logged-with: PATH"): the table as it is now is taken (by the editor, where it was edited since: as it was first seen beside this session)';

/** In a sentence, beside what a table's cells are said to want; undefined where every session says which table it was. */
export const tableAssumedWords = ({ sessions }: Pick<Evidence, 'sessions'>): string | undefined => {
  const silent = sessions.filter(
    ({ used, assumed, loggedWith }) => used > 0 && loggedWith === undefined && assumed.includes(TABLE_ASSUMED),
  ).length;
  if (silent === 0) return undefined;
  const which = silent < sessions.length ? `${silent} of ${sessions.length} sessions` : silent === 1 ? 'The session' : 'The sessions';
  return `${which} ${silent === 1 ? 'is' : 'are'} taken to be logged with the table as it is: if that was changed since, this may be mended already; name the earlier table first ("loggedWith" in vehicle.json).`;
};
