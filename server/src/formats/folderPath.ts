// Paths as a vehicle file writes them: relative, and never out of the folder.

/**
 * The path with `/`, without `.` and resolved `..`; undefined where it is empty, absolute, has a drive letter or a scheme, holds control
 * characters, or climbs out of the folder. Links are not followed here: the workspace does that.
 */
export const insideFolder = (path: string): string | undefined => {
  const plain = path.trim().replaceAll('\\', '/');
  // eslint-disable-next-line no-control-regex
  if (plain === '' || plain.startsWith('/') || /^[a-z][a-z\d+.-]*:/i.test(plain) || /[\u0000-\u001f]/.test(plain)) return undefined;
  const out: string[] = [];
  for (const part of plain.split('/')) {
    if (part === '..') { if (out.pop() === undefined) return undefined; } else if (part !== '' && part !== '.') out.push(part);
  }
  return out.length === 0 ? undefined : out.join('/');
};

/**
 * More `*`, `+(…)` and `*(…)` than this and a glob is not searched by: each multiplies the ways in which a long path can be held against it, by
 * about the path's length. Measured with paths of 255 characters: four take a fifth of a second, five take minutes.
 */
export const MOST_WILDCARDS = 4;

/** Whether a glob has more than `MOST_WILDCARDS`; `**` is one. */
export const hasTooManyWildcards = (glob: string): boolean => (glob.match(/\*+|\+\(/g)?.length ?? 0) > MOST_WILDCARDS;

/** As `insideFolder`, for a glob: one that has wildcards may hold no `..` at all, in braces neither, and no more than `MOST_WILDCARDS`. */
export const globInsideFolder = (glob: string): string | undefined => {
  const plain = glob.trim().replaceAll('\\', '/').replace(/^(?:\.\/)+/, '');
  if (!/[*?[\]{}()!|]/.test(plain)) return insideFolder(plain);
  if (hasTooManyWildcards(plain)) return undefined;
  const climbs = plain.split(/[/{},()|]/).some((part) => part === '..' || part === '[.][.]');
  const elsewhere = plain.startsWith('/') || /[{,(|]\s*\//.test(plain) || plain.split(/[{},()|]/).some((part) => /^[a-z][a-z\d+.-]*:/i.test(part));
  return climbs || elsewhere ? undefined : plain;
};
