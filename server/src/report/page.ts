// The page as a whole: one file that needs nothing else, in the order in which it is read.

import { html, Markup } from './html.js';
import type { Report } from './model.js';
import { cautionsSection, computedSection, inputsSection, notLookedSection } from './sectionsEnd.js';
import { codesSection, hardwareSection } from './sectionsHardware.js';
import { pullsSection } from './sectionsPulls.js';
import { changesSection, tableSection } from './sectionsTable.js';
import { headSection, sessionsSection, verdictSection, worstSection } from './sectionsTop.js';
import { STYLE } from './style.js';

const SECTIONS: readonly (readonly [id: string, title: string, make: (report: Report) => Markup])[] = [
  ['worst', 'Worst moments', worstSection],
  ['hardware', 'Hardware headroom', hardwareSection],
  ['codes', 'Trouble codes', codesSection],
  ['table', 'The fuel table', tableSection],
  ['changes', 'What was changed, and did it work', changesSection],
  ['sessions', 'What was looked at', sessionsSection],
  ['unknown', 'What was not looked at, and what could not be known', notLookedSection],
  ['cautions', 'Cautions', cautionsSection],
  ['pulls', 'The pulls, one by one', pullsSection],
  ['computed', 'How the numbers were made', computedSection],
  ['inputs', 'What it rests on', inputsSection],
];

/** By this a page is known as ours. */
export const REPORT_MARK = '<meta name="generator" content="Leanspot ';

/** The whole page; the same report makes the same text. */
export function reportPage(report: Report): string {
  return html`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width, initial-scale=1">
${new Markup(REPORT_MARK)}${report.version}">
<title>${report.name}: engine report of ${report.date}</title>
<style>${new Markup(STYLE)}</style>
</head>
<body>
${headSection(report)}
<main>
<section aria-labelledby="verdict"><h2 id="verdict">Verdict</h2>${verdictSection(report)}</section>
<nav aria-label="Contents"><ul>${SECTIONS.map(([id, title]) => html`<li><a href="#${id}">${title}</a></li>`)}</ul></nav>
${SECTIONS.map(
  ([id, title, make]) => html`<section aria-labelledby="${id}"><h2 id="${id}">${title}</h2>
${make(report)}
</section>
`,
)}</main>
</body>
</html>
`.text;
}
