// An invented language, in which every text stands between brackets: what a user reads of the client passes through the translation, whole.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { build } from 'esbuild';
import { globSync } from 'tinyglobby';
import ts from 'typescript';
import { detailWords, placeWords, runWords, selectionWords } from '../client/webview/tableSpeech.js';
import { shownWords, viewWords } from '../client/webview/speech.js';
import type { ViewState } from '../client/webview/state.js';
import type { TablePicture } from '../server/src/protocol/table.js';
import { TABLE_WORDS } from '../server/src/protocol/tableWords.js';
import type { TraceSummary } from '../server/src/protocol/trace.js';
import { TRACE_WORDS } from '../server/src/protocol/traceWords.js';

const ROOT = join(import.meta.dirname, '..');
const json = <T>(path: string): T => JSON.parse(readFileSync(join(ROOT, path), 'utf8')) as T;

const invented = (text: string): string => `⟦${text}⟧`;
const inventedWords = <Words extends Readonly<Record<string, string>>>(words: Words): Words =>
  Object.fromEntries(Object.entries(words).map(([key, text]) => [key, invented(text)])) as unknown as Words;

/** What is left of a text without what was translated: brackets within brackets come from texts filled into others. */
function untranslated(text: string): string {
  for (let before = ''; before !== text;) [before, text] = [text, text.replace(/⟦[^⟦⟧]*⟧/g, '')];
  return text;
}
/** The product's name, signs of units and icons are no words of a language. */
const NO_WORDS = /\bLeanspot\b|\$\([\w~-]+\)|\b(?:rpm|kPa|psi|bar|ms|s|MB|AFR|SVG|PNG)\b/g;
const hasWords = (text: string): boolean => /\p{L}{2}/u.test(text.replace(NO_WORDS, ''));

interface Seen {
  readonly where: string;
  readonly text: string;
}

const CALLS_THAT_SHOW: Readonly<Record<string, number>> = {
  showInformationMessage: 0,
  showWarningMessage: 0,
  showErrorMessage: 0,
  tell: 0,
  button: 0,
  signButton: 1,
  helpDialog: 0,
  append: 0,
  replaceChildren: 0,
  el: 2,
  choice: 1,
};
const PROPERTIES_THAT_SHOW = new Set([
  'title',
  'label',
  'placeHolder',
  'prompt',
  'detail',
  'description',
  'tooltip',
  'openLabel',
  'saveLabel',
  'message',
  'aria-label',
  'aria-valuetext',
  'placeholder',
  'alt',
  'textContent',
  'text',
]);

/** Literals in the places that a user reads; `l10n.t(…)` is looked at apart. */
function shownLiterals(file: string, code = readFileSync(file, 'utf8')): Seen[] {
  const source = ts.createSourceFile(file, code, ts.ScriptTarget.Latest, true);
  const found: Seen[] = [];
  const keep = (node: ts.Node): void => {
    if (ts.isStringLiteralLike(node) || ts.isTemplateExpression(node)) {
      const text = ts.isTemplateExpression(node)
        ? [node.head, ...node.templateSpans.map(({ literal }) => literal)].map((part) => part.text).join(' ')
        : node.text;
      if (hasWords(text))
        found.push({
          where: `${file.slice(ROOT.length + 1)}:${source.getLineAndCharacterOfPosition(node.getStart()).line + 1}`,
          text: text.trim(),
        });
    }
    // The parts of what is joined or chosen are shown as well.
    if (ts.isConditionalExpression(node)) {
      keep(node.whenTrue);
      keep(node.whenFalse);
    }
    if (ts.isBinaryExpression(node)) {
      keep(node.left);
      keep(node.right);
    }
    if (ts.isParenthesizedExpression(node)) keep(node.expression);
  };
  const visit = (node: ts.Node): void => {
    if (ts.isCallExpression(node)) {
      const callee = ts.isPropertyAccessExpression(node.expression) ? node.expression.name.text : node.expression.getText();
      const from = CALLS_THAT_SHOW[callee];
      if (from !== undefined) node.arguments.slice(from).forEach(keep);
      if (callee === 'createWebviewPanel') keep(node.arguments[1]!);
    }
    if (ts.isPropertyAssignment(node) && PROPERTIES_THAT_SHOW.has(node.name.getText().replace(/'/g, ''))) keep(node.initializer);
    if (
      ts.isBinaryExpression(node) &&
      node.operatorToken.kind === ts.SyntaxKind.EqualsToken &&
      ts.isPropertyAccessExpression(node.left) &&
      PROPERTIES_THAT_SHOW.has(node.left.name.text)
    )
      keep(node.right);
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

/** Each `l10n.t(…)`: its text where that is a literal, and how many values fill it. */
function translatedCalls(file: string): { where: string; text: string | undefined; values: number }[] {
  const source = ts.createSourceFile(file, readFileSync(file, 'utf8'), ts.ScriptTarget.Latest, true);
  const found: { where: string; text: string | undefined; values: number }[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isCallExpression(node) && node.expression.getText() === 'l10n.t') {
      const [text, ...values] = node.arguments;
      found.push({
        where: `${file.slice(ROOT.length + 1)}:${source.getLineAndCharacterOfPosition(node.getStart()).line + 1}`,
        text: text && ts.isStringLiteralLike(text) ? text.text : undefined,
        values: values.length,
      });
    }
    ts.forEachChild(node, visit);
  };
  visit(source);
  return found;
}

const slotsOf = (text: string): number[] => [...new Set([...text.matchAll(/\{(\d)\}/g)].map(([, slot]) => Number(slot)))].sort();

suite('an invented language', () => {
  const clients = globSync('client/src/**/*.ts', { cwd: ROOT, absolute: true });
  const bundle = json<Record<string, string>>('l10n/bundle.l10n.json');

  test('nothing that the client or a view shows stands in the sources as it is read', () => {
    const files = [...clients, ...globSync('client/webview/**/*.ts', { cwd: ROOT, absolute: true })];
    assert.deepEqual(
      files.flatMap((file) => shownLiterals(file)),
      [],
    );
  });

  test('the search for such texts finds them', () => {
    const found = (code: string): string[] => shownLiterals(join(ROOT, 'x.ts'), code).map(({ text }) => text);
    assert.deepEqual(
      found("window.showErrorMessage('No such car'); el('th', { title: 'Sort' }, a ? 'up' : `${n} down`); item.tooltip = 'Open ' + name;"),
      ['No such car', 'up', 'down', 'Sort', 'Open'],
    );
    assert.deepEqual(
      found(
        "window.showErrorMessage(l10n.t('No such car')); el('th', { class: 'wide' }, `${n} rpm`); item.text = '$(loading~spin) Leanspot'; post({ type: 'tell', message: words.none });",
      ),
      [],
    );
  });

  test('every text has as many places as values fill it, and is in the bundle', () => {
    const calls = clients.flatMap(translatedCalls);
    assert.ok(calls.length > 60, String(calls.length));
    // The views' words come from lists; each is in the bundle (manifest.test.ts).
    assert.deepEqual(
      calls.filter(({ text, where }) => text === undefined && !where.startsWith('client/src/talk.ts')),
      [],
    );
    for (const { where, text, values } of calls) {
      if (text === undefined) continue;
      assert.deepEqual(slotsOf(text), [...Array(values).keys()], `${where}: ${text}`);
      assert.equal(bundle[text], text, where);
    }
  });

  test('the side bar speaks it throughout', async () => {
    const { outputFiles } = await build({
      entryPoints: [join(ROOT, 'client/src/vehicleWords.ts')],
      bundle: true,
      write: false,
      format: 'esm',
      logLevel: 'warning',
      plugins: [
        {
          name: 'editor',
          setup: (on) => {
            on.onResolve({ filter: /^vscode$/ }, () => ({ path: 'vscode', namespace: 'editor' }));
            on.onLoad({ filter: /.*/, namespace: 'editor' }, () => ({
              contents: `
          const bundle = ${JSON.stringify(Object.fromEntries(Object.keys(bundle).map((text) => [text, invented(text)])))};
          export const env = { language: 'en' };
          export const l10n = { t: (text, ...values) => (bundle[text] ?? text).replace(/\\{(\\d)\\}/g, (_, at) => values[at]) };`,
            }));
          },
        },
      ],
    });
    const words = (await import(`data:text/javascript,${encodeURIComponent(outputFiles[0]!.text)}`)) as Record<
      string,
      (node: unknown) => string
    >;
    const findings = { errors: 2, warnings: 1, notes: 3 },
      none = { errors: 0, warnings: 0, notes: 1 };
    const worst = { lambda: 0.97, targetLambda: 0.83, rpm: 4520, manifoldPressureKPa: 160, timeS: 43.05 };
    const said: [name: string, node: unknown][] = [
      ['findingWords', findings],
      ['findingWords', none],
      ['vehicleWords', { sessions: 1, tables: 2, findings }],
      ['vehicleWords', { sessions: 3, tables: 1, findings: none }],
      ['sessionWords', {}],
      ['sessionWords', { read: { findings, pulls: 0, durationS: 40 } }],
      ['sessionWords', { read: { findings: none, pulls: 2, durationS: 4000 } }],
      ['recordingLabel', { number: 2 }],
      ['recordingWords', { fromS: 0, toS: 9, pulls: [1] }],
      ['pullLabel', { number: 4 }],
      ['pullWords', { fromRpm: 3000, toRpm: 6000, peakManifoldPressureKPa: 170 }],
      ['pullWords', { worst, leanS: 2, fromRpm: 3000, toRpm: 6000 }],
      ['pullWords', { worst: { lambda: 0.9, timeS: 3 }, fromRpm: 1, toRpm: 2 }],
      ['tableWords', { role: 'fuel', proof: { firm: 1, thin: 2, none: 3 }, findings }],
      ['tableWords', { role: 'target' }],
      ['tableWords', { role: 'earlier' }],
      ['proofLabel', 'firm'],
      ['proofLabel', 'thin'],
      ['proofLabel', 'none'],
      ['cellsWords', 1],
      ['cellsWords', 7],
      ...[
        [1.1, 1.05, 1.15],
        [0.9, 0.85, 0.95],
        [1, 0.9, 1.1],
      ].map(([factor, factorLow, factorHigh]): [string, unknown] => [
        'cellNodeWords',
        { factor, factorLow, factorHigh, measuredLambda: 0.9, targetLambda: 0.85 },
      ]),
    ];
    assert.deepEqual(
      Object.keys(words).filter((name) => name !== 'number' && !said.some(([each]) => each === name)),
      [],
      'every words are tried',
    );
    for (const [name, node] of said) {
      const text = words[name]!(node);
      assert.ok(text.includes('⟦') && !hasWords(untranslated(text)), `${name}: ${text}`);
    }
  });

  test('the views speak it throughout', () => {
    const trace = inventedWords(TRACE_WORDS),
      table = inventedWords(TABLE_WORDS);
    const axis = (title: string) => ({ title, texts: ['1', '2'], values: [1, 2] });
    const evidence = {
      proof: 'firm',
      samples: 9,
      measuredLambda: 0.9,
      targetLambda: 0.8,
      factor: 1.1,
      factorLow: 1.05,
      factorHigh: 1.15,
    } as const;
    const cell = {
      text: '50',
      value: 50,
      line: 1,
      character: 2,
      endCharacter: 4,
      evidence,
      proposed: { text: '52', value: 52, capped: true },
      dutyPercent: 90,
    };
    const picture = {
      evidence: 'there',
      dutyLimitPercent: 85,
      title: '(%)',
      columns: axis('(rpm)'),
      rows: axis('(kPa)'),
      cells: [cell],
    } as unknown as TablePicture;
    const summary = { channels: [], spells: [], runs: [] } as unknown as TraceSummary;
    const state = (against: ViewState['against']) => ({ against, lanes: [], runs: [] }) as unknown as ViewState;
    const views = (['time', 'speed', 'overlay'] as const).flatMap((against) =>
      [shownWords, viewWords].map((say) => say(state(against), { from: 1, to: 9 }, summary, trace)),
    );
    const choice = { run: 0, fromS: 3, words: '' };
    const texts = [
      ...views,
      ...detailWords(picture, cell, table),
      ...detailWords(picture, { ...cell, evidence: { ...evidence, samples: 0.2, factor: 0.9, proof: 'thin' }, dutyPercent: 3 }, table),
      ...detailWords(picture, { ...cell, evidence: undefined }, table),
      ...selectionWords([cell, cell], table),
      runWords({ ...choice, pull: 2, direction: 'up' }, table),
      runWords({ ...choice, pull: 0, direction: 'down' }, table),
    ];
    for (const text of texts) assert.ok(text.includes('⟦') && !hasWords(untranslated(text)), text);
    assert.ok(!hasWords(placeWords(picture, 0, table)));
  });

  test('nothing that the manifest shows stands in it as it is read, and links go on leading somewhere', () => {
    const words = json<Record<string, string>>('package.nls.json');
    const visible = new Set([
      'title',
      'label',
      'description',
      'markdownDescription',
      'displayName',
      'contextualTitle',
      'contents',
      'altText',
      'enumDescriptions',
      'category',
    ]);
    const literals: string[] = [];
    const walk = (value: unknown, key: string, path: string): void => {
      if (typeof value === 'string') {
        if (visible.has(key) && hasWords(value.replace(/^%([\w.-]+)%$/, ''))) literals.push(`${path}: ${value}`);
        return;
      }
      if (Array.isArray(value)) value.forEach((each, at) => walk(each, key, `${path}[${at}]`));
      else if (typeof value === 'object' && value !== null)
        for (const [name, each] of Object.entries(value)) walk(each, name, `${path}.${name}`);
    };
    const manifest = json<Record<string, unknown>>('package.json');
    for (const part of ['displayName', 'description', 'contributes', 'capabilities']) walk(manifest[part], part, part);
    assert.deepEqual(
      literals.filter((each) => !/: Leanspot$/.test(each)),
      [],
    );
    for (const [key, text] of Object.entries(words)) {
      // A link is `[words](command:…)`: a translator changes the words alone.
      assert.equal((text.match(/\]\(command:/g) ?? []).length, (text.match(/\(command:[\w.]+(?:\?[\w%.-]+)?\)/g) ?? []).length, key);
    }
  });
});
