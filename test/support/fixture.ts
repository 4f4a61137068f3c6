// Fixtures as text: several files in one string, each under a line `=== name`. The first line may be blank.

export interface FixtureFile {
  readonly name: string;
  readonly text: string;
}

/** Splits `=== name` sections; what stands before the first is not allowed to hold anything. */
export function fixtureFiles(fixture: string): FixtureFile[] {
  const files: FixtureFile[] = [];
  for (const part of fixture.split(/^=== /m)) {
    if (part.trim() === '') continue;
    const end = part.indexOf('\n');
    if (end < 0) throw new Error(`A fixture's section needs text under its name: ${part}`);
    files.push({ name: part.slice(0, end).trim(), text: part.slice(end + 1) });
  }
  return files;
}

/** The file whose name ends so; undefined where there is none. */
export const fileLike = (files: readonly FixtureFile[], ending: string): FixtureFile | undefined =>
  files.find((file) => file.name.endsWith(ending));
