// The manifest holds together: every command is registered and every word and condition exists; each text that the editor shows can be
// translated.

import assert from 'node:assert/strict';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { globSync } from 'tinyglobby';
import { TABLE_WORDS } from '../server/src/protocol/tableWords.js';
import { TRACE_WORDS } from '../server/src/protocol/traceWords.js';

const ROOT = join(import.meta.dirname, '..');
const read = (path: string): string => readFileSync(join(ROOT, path), 'utf8');
interface Menu {
  readonly command?: string;
  readonly when?: string;
}
interface Manifest {
  readonly contributes: {
    readonly commands: readonly { readonly command: string; readonly title: string; readonly category?: string }[];
    readonly menus: Readonly<Record<string, readonly Menu[]>>;
    readonly views: Readonly<Record<string, readonly { readonly id: string }[]>>;
    readonly viewsWelcome: readonly { readonly contents: string; readonly when?: string }[];
    readonly languages: readonly { readonly id: string }[];
    readonly customEditors: readonly { readonly viewType: string }[];
    readonly walkthroughs: readonly {
      readonly id: string;
      readonly steps: readonly {
        readonly id: string;
        readonly media: { readonly image?: string; readonly markdown?: string };
        readonly completionEvents: readonly string[];
      }[];
    }[];
  };
}
const manifest = JSON.parse(read('package.json')) as Manifest;
const words = JSON.parse(read('package.nls.json')) as Record<string, string>;
const { commands, menus, views, viewsWelcome, languages, customEditors, walkthroughs } = manifest.contributes;
const SOURCES = globSync(['client/src/**/*.ts', 'server/src/protocol/*.ts'], { cwd: ROOT, absolute: true })
  .map((file) => readFileSync(file, 'utf8'))
  .join('\n');
const bundle = (language = ''): Record<string, string> => JSON.parse(read(`l10n/bundle.l10n${language}.json`)) as Record<string, string>;

/** Conditions of the editor's own that are used here; those of the extension are set in its sources. */
const EDITORS_KEYS = new Set([
  'view',
  'viewItem',
  'editorLangId',
  'resourceLangId',
  'resourceExtname',
  'resourceFilename',
  'activeCustomEditorId',
  'activeWebviewPanelId',
  'isWorkspaceTrusted',
  'workspaceFolderCount',
  'isWeb',
  'resourceScheme',
  'editorTextFocus',
  'editorReadonly',
  'focusedView',
  'isInDiffEditor',
]);

/** Names on the left of a comparison or alone; literals and patterns taken out. */
const keysOf = (when: string): string[] =>
  when
    .replace(/=~\s*\/(?:[^/\\]|\\.)*\/\w*/g, ' ')
    .replace(/[=!<>]=?\s*'?[\w.-]+'?/g, ' ')
    .match(/[A-Za-z][\w.]*/g)
    ?.filter((word) => word !== 'true' && word !== 'false' && word !== 'in' && word !== 'not') ?? [];

suite('manifest', () => {
  test('every key of a text has words, and no words are left over', () => {
    const used = new Set([...read('package.json').matchAll(/%([\w.-]+)%/g)].map(([, key]) => key!));
    assert.deepEqual(
      [...used].filter((key) => !words[key]),
      [],
    );
    assert.deepEqual(
      Object.keys(words).filter((key) => !used.has(key)),
      [],
    );
  });

  test('every command is registered, has a category, and is in the palette only where it acts', () => {
    for (const { command, category } of commands) {
      assert.ok(SOURCES.includes(`'${command}'`), `${command} is registered`);
      assert.equal(category, '%command.category%', command);
      assert.ok(
        menus.commandPalette!.some((item) => item.command === command && item.when),
        `${command} says when the palette shows it`,
      );
    }
  });

  test('menus and welcome texts name commands that exist', () => {
    const known = new Set(commands.map(({ command }) => command));
    for (const [menu, items] of Object.entries(menus))
      for (const { command } of items) assert.ok(command === undefined || known.has(command), `${command} in ${menu}`);
    for (const text of Object.values(words)) {
      for (const [, command] of text.matchAll(/\(command:([\w.]+)/g))
        assert.ok(known.has(command!) || /^(vscode|workbench)\./.test(command!), `${command} in a text`);
    }
  });

  test('every condition names a key that the editor or the extension sets', () => {
    const all = [
      ...Object.values(menus)
        .flat()
        .map(({ when }) => when),
      ...viewsWelcome.map(({ when }) => when),
    ].filter((when) => when !== undefined);
    assert.ok(all.length > 10);
    for (const when of all) {
      for (const key of keysOf(when)) assert.ok(EDITORS_KEYS.has(key) || SOURCES.includes(`'setContext', '${key}'`), `${key} in "${when}"`);
    }
  });

  test('conditions name views, languages and editors that are contributed, and branches that the view has', () => {
    const ids = new Set([
      ...Object.values(views)
        .flat()
        .map(({ id }) => id),
      ...languages.map(({ id }) => id),
      ...customEditors.map(({ viewType }) => viewType),
    ]);
    const tree = read('client/src/vehicleTree.ts');
    for (const { when = '' } of Object.values(menus).flat()) {
      for (const [, id] of when.matchAll(/(?:\bview|LangId|EditorId) [!=]= ([\w.-]+)/g)) assert.ok(ids.has(id!), `${id} in "${when}"`);
      for (const [, items] of when.matchAll(/viewItem (?:== |=~ \/\^\()([\w|-]+)/g))
        for (const item of items!.split('|')) assert.ok(tree.includes(`'${item}'`), `${item} in "${when}"`);
    }
  });

  test('each first step has a picture that is there and an end that the client tells of, and its button leads to it', () => {
    const [firstSteps, ...others] = walkthroughs;
    assert.deepEqual(others, []);
    assert.ok(SOURCES.includes(`'leanspot.leanspot#${firstSteps!.id}'`), 'the extension opens it');
    for (const { id, media, completionEvents } of firstSteps!.steps) {
      assert.ok(existsSync(join(ROOT, media.image ?? media.markdown!)), id);
      assert.deepEqual(completionEvents, [`onContext:leanspot.done.${id}`]);
      assert.ok(SOURCES.includes(`done('${id}')`), `${id} is told of`);
      assert.match(
        words[`firstSteps.${id}.words`]!,
        id === 'sample' ? /\(command:leanspot\.copySample\)$/ : new RegExp(`\\(command:leanspot\\.firstStep\\?%22${id}%22\\)$`),
      );
    }
  });

  test('every text of the client is in the bundle, and nothing else', () => {
    const texts = new Set(
      [...SOURCES.matchAll(/l10n\.t\(\s*(?:'((?:[^'\\]|\\.)*)'|"((?:[^"\\]|\\.)*)")/g)].map(([, single, double]) =>
        (single ?? double)!.replace(/\\(.)/g, '$1'),
      ),
    );
    for (const text of [...Object.values(TRACE_WORDS), ...Object.values(TABLE_WORDS)]) texts.add(text);
    assert.ok(texts.size > 50, 'texts found');
    const known = bundle();
    assert.deepEqual(
      [...texts].filter((text) => known[text] !== text),
      [],
      'run `npm run l10n`',
    );
    assert.deepEqual(
      Object.keys(known).filter((text) => !texts.has(text)),
      [],
      'run `npm run l10n`',
    );
  });

  test('a translation fills in what the English text fills in, and knows no text that is gone', () => {
    const slots = (text: string): string => [...new Set(text.match(/\{\d\}/g) ?? [])].sort().join();
    const english = bundle();
    const languages = readdirSync(join(ROOT, 'l10n')).flatMap((name) => /^bundle\.l10n(\.[\w-]+)\.json$/.exec(name)?.[1] ?? []);
    for (const language of languages) {
      for (const [text, translated] of Object.entries(bundle(language))) {
        assert.ok(text in english, `${language}: ${text}`);
        assert.equal(slots(translated), slots(text), `${language}: ${text}`);
      }
      const nls = JSON.parse(read(`package.nls${language}.json`)) as Record<string, string>;
      assert.deepEqual(
        Object.keys(nls).filter((key) => !(key in words)),
        [],
      );
    }
  });
});
