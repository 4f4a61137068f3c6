// What the first steps show of hovers: written from what the product says of the small sample's lean spot, so that it follows the reader's
// theme.

import { createLanguageService } from '../../server/src/service/languageService.js';
import { asMarkdown } from '../../server/src/service/editor/card.js';
import { firstSampleFiles } from './makeSample.js';
import { memoryWorkspace } from './memoryWorkspace.js';

/** The first finding that each hover is asked at. */
const ASKED = [
  ['walk-reading.md', 'sessions/dyno.session.csv', 'lean-under-load'],
  ['walk-cell.md', 'tables/ve.table.csv', 'cell-lean'],
] as const;

/** Each page by its path as seen from the documentation. */
export async function hoverPages(): Promise<Map<string, string>> {
  const workspace = memoryWorkspace(
    [...firstSampleFiles()].map(([path, bytes]) => `=== ${path}\n${new TextDecoder().decode(bytes)}`).join(''),
  );
  const service = createLanguageService(workspace);
  await service.weigher.evidence(workspace.uri('tables/ve.table.csv'));
  return new Map(
    await Promise.all(
      ASKED.map(async ([page, path, code]) => {
        const uri = workspace.uri(path);
        const finding = (await service.check(uri))?.findings.find((each) => each.code === code);
        const card = finding && (await service.hover(uri, finding.range.start));
        if (!card) throw new Error(`nothing is told of ${path}`);
        return [`../../client/media/${page}`, `${asMarkdown(card)}\n`] as const;
      }),
    ),
  );
}
