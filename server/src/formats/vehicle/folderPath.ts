// Paths as a vehicle file writes them: relative, and never out of the folder.

/** A drive letter or a scheme. */
const BEGINS_ELSEWHERE = /^[a-z][a-z\d+.-]*:/i;

/**
 * The path with `/`, without `.` and resolved `..`; undefined where it is empty, absolute, has a drive letter or a scheme, holds control
 * characters, or climbs out of the folder. Links are not followed here: the workspace does that.
 */
export const insideFolder = (path: string): string | undefined => {
  const plain = path.trim().replaceAll('\\', '/');
  // eslint-disable-next-line no-control-regex
  if (plain === '' || plain.startsWith('/') || BEGINS_ELSEWHERE.test(plain) || /[\u0000-\u001f]/.test(plain)) return undefined;
  const out: string[] = [];
  for (const part of plain.split('/')) {
    if (part === '..') {
      if (out.pop() === undefined) return undefined;
    } else if (part !== '' && part !== '.') out.push(part);
  }
  // `a/../c:x` and `./c:x` begin with a drive once they are short.
  return out.length === 0 || BEGINS_ELSEWHERE.test(out[0]) ? undefined : out.join('/');
};

/**
 * More `*` than this and a glob is not searched by: each multiplies the ways in which a long path can be held against it, by
 * about the path's length. Measured with paths of 255 characters: four take a fifth of a second, five take minutes.
 */
export const MOST_WILDCARDS = 4;

/** As many alternatives (`{a,b}` twice are four) cost about what one `*` does. */
const ALTERNATIVES_LIKE_A_STAR = 64;

/**
 * Whether a glob has more than `MOST_WILDCARDS` (`**` is one), or what costs as much: many alternatives, or a group that repeats
 * (exponential already alone).
 */
export const hasTooManyWildcards = (glob: string): boolean => {
  if (/[)\]}]\+|[+*]\(/.test(glob)) return true;
  const stars = glob.match(/\*+/g)?.length ?? 0;
  // `+` repeats the sign before it inside of a group only.
  const repeats = /[({[]/.test(glob) ? glob.split('+').length - 1 : 0;
  return stars + repeats + Math.ceil(Math.log(alternativesOf(glob)) / Math.log(ALTERNATIVES_LIKE_A_STAR)) > MOST_WILDCARDS;
};

/** In how many ways the groups of a glob can be chosen from; no fewer than there are. */
const alternativesOf = (glob: string): number => {
  const open: number[] = [];
  let all = 1;
  for (let at = 0; at < glob.length; at++) {
    const sign = glob[at];
    if (sign === '{' || sign === '(') open.push(1);
    else if ((sign === ',' || sign === '|') && open.length > 0) open[open.length - 1]++;
    else if ((sign === '}' || sign === ')') && open.length > 0) all *= open.pop()! * (glob[at + 1] === '?' ? 2 : 1);
    else continue;
    if (all > 1e9) break;
  }
  return open.reduce((product, ways) => product * ways, all) * 2 ** (glob.match(/\?\(/g)?.length ?? 0);
};

/** As `insideFolder`, for a glob: one that has wildcards may hold no `..` at all, in braces neither, and no more than `MOST_WILDCARDS`. */
export const globInsideFolder = (glob: string): string | undefined => {
  const plain = glob
    .trim()
    .replaceAll('\\', '/')
    .replace(/^(?:\.\/)+/, '');
  if (!/[*?[\]{}()!|]/.test(plain)) return insideFolder(plain);
  if (hasTooManyWildcards(plain)) return undefined;
  const climbs = plain.split(/[/{},()|]/).some((part) => part === '..' || part === '[.][.]');
  const elsewhere =
    plain.startsWith('/') || /[{,(|]\s*\//.test(plain) || plain.split(/[{},()|]/).some((part) => BEGINS_ELSEWHERE.test(part));
  return climbs || elsewhere ? undefined : plain;
};
