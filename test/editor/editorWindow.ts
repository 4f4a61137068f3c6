// One page with the editor in it, and the moves of a person in front of it. Everything waits for what it needs to see.
import { join } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import { screenshotFolder } from './places.js';
import { type Theme, themes } from './scene.js';
import { writeFolderSettings } from './settings.js';
import { keepPicture, MANY } from './smallPicture.js';

const hoverLimitMs = 4000;
/** Weighing the whole sample takes a while on a small machine. */
const settleLimitMs = 120_000;
const openTab = '.tabs-container .tab.active';
/** Asked to open files, as every scene is, the editor else restores nothing. */
export const restoring = { 'window.restoreWindows': 'preserve' };

export class EditorWindow {
  constructor(
    readonly page: Page,
    readonly folder: string,
  ) {}

  /** Waits until the workbench stands and the given file is shown. */
  async ready(file?: string): Promise<void> {
    await this.page.locator('.monaco-workbench .part.statusbar').waitFor();
    if (file) await this.tab(file).waitFor();
  }

  /** Loads the window anew; with the setting `restoring` it comes back with what was open. */
  async reload(): Promise<void> {
    const loaded = this.page.waitForEvent('load');
    await this.command('Developer: Reload Window');
    await loaded;
    await this.ready();
  }

  /** Runs a command by its full title, e.g. `View: Toggle Word Wrap`; `choice` is picked from the list that it offers. */
  async command(title: string, choice?: string): Promise<void> {
    await this.pick(`>${title}`, title, choice === undefined);
    if (choice !== undefined) await this.page.locator('.quick-input-widget .monaco-list-row', { hasText: choice }).first().click();
  }

  /** Opens a file by its path in the folder. */
  async open(path: string): Promise<void> {
    await this.pick(join(this.folder, path), fileName(path));
    await this.tab(path).waitFor();
  }

  /** Puts the cursor on a place that counts from 1, as the status bar shows it. */
  async goTo(line: number, column = 1): Promise<void> {
    await this.pick(`:${line}:${column}`, `Go to line ${line} and character ${column}`);
    await this.page.locator('.statusbar-item', { hasText: `Ln ${line}, Col ${column}` }).waitFor();
  }

  private async pick(words: string, label: string, ends = true): Promise<void> {
    const input = this.page.locator('.quick-input-widget input[type="text"]');
    await this.page.keyboard.press('F1');
    await input.waitFor();
    await input.fill(words);
    await this.page.locator('.quick-input-widget .monaco-list-row.focused', { hasText: label }).waitFor();
    await input.press('Enter');
    if (ends) await input.waitFor({ state: 'hidden' });
  }

  /**
   * The place that a dialog for files offers, with this at its end: its box stands a moment before it is filled, and is filled with the
   * folder first.
   */
  async placeOffered(end: string): Promise<string> {
    const input = this.page.locator('.quick-input-widget input[type="text"]');
    await input.waitFor({ timeout: settleLimitMs });
    await this.page.waitForFunction(
      (wanted) => document.querySelector<HTMLInputElement>('.quick-input-widget input[type="text"]')?.value.endsWith(wanted),
      end,
    );
    return input.inputValue();
  }

  tab(path: string): Locator {
    return this.page.locator(openTab, { hasText: fileName(path) });
  }

  /** Underlines of a severity in the editor that is shown. */
  squiggles(severity: 'error' | 'warning' | 'info' | 'hint'): Locator {
    return this.page.locator(`.editor-instance .squiggly-${severity}`);
  }

  /** Waits until the file shown has findings, wherever they stand in it: its tab carries their number. */
  async foundSomething(): Promise<void> {
    await this.page
      .locator(`${openTab} .monaco-decoration-badge, ${openTab} [class*="monaco-decoration-itemBadge"]`)
      .first()
      .waitFor({ state: 'attached', timeout: settleLimitMs });
  }

  /** Rows of the Problems panel, which this opens, that contain a word. The panel only holds the rows it has room for, so it filters. */
  async problems(word: string): Promise<Locator> {
    await this.command('Problems: Focus on Problems View');
    await this.page.getByPlaceholder(/^Filter/).fill(word);
    return this.page.locator('.markers-panel .monaco-list-row', { hasText: word });
  }

  /** Rests the mouse on the `nth` place (from 0) where these words stand in the editor, until the hover there says what is expected. */
  async hoverOver(words: string, expected: string | RegExp, nth = 0): Promise<Locator> {
    const hover = this.page
      .locator('.monaco-hover:visible .monaco-hover-content', { hasText: expected })
      .filter({ hasNotText: 'Loading...' })
      .first();
    for (let tries = 5; ; tries--) {
      // Found anew each time: lines move when a lens appears above them.
      const place = await this.page.waitForFunction(placeOfWords, { words, nth });
      const { x, y } = (await place.jsonValue())!;
      await this.page.mouse.move(x, y - 60);
      await this.page.mouse.move(x, y, { steps: 4 });
      try {
        await hover.waitFor({ timeout: hoverLimitMs });
        return hover;
      } catch (error) {
        if (tries === 0) throw error;
      }
    }
  }

  /** Waits until the extension has nothing more to do, so that a picture shows the end of it. */
  async settled(): Promise<void> {
    const item = this.page.locator('.statusbar-item', { hasText: 'Leanspot' });
    await item
      .filter({ hasNot: this.page.locator('.codicon-loading') })
      .first()
      .waitFor({ timeout: settleLimitMs });
  }

  /** Messages in the corner, e.g. an offer. */
  get notifications(): Locator {
    return this.page.locator('.notifications-toasts .notification-list-item');
  }

  /** Switches the colours as a person does in the settings, and waits until they are on. */
  async wear(theme: Theme): Promise<void> {
    writeFolderSettings(this.folder, { 'workbench.colorTheme': themes[theme] });
    await this.page.locator(`.monaco-workbench.${baseOf[theme]}`).waitFor();
  }

  /** Keeps a picture of the window. */
  async shot(name: string): Promise<void> {
    await this.page.screenshot({ path: join(screenshotFolder, `${name}.png`), animations: 'disabled' });
  }

  /** Keeps the window, as it is now, as a picture of the README. */
  async keep(name: string): Promise<void> {
    await this.settled();
    const { width, height } = this.page.viewportSize()!;
    await keepPicture(this.page, this.page, name, { x: 0, y: 0, width, height }, MANY);
  }

  async shotInAllThemes(name: string): Promise<void> {
    await this.settled();
    for (const theme of Object.keys(themes) as Theme[]) {
      await this.wear(theme);
      await this.shot(`${name}-${theme}`);
    }
  }
}

/** The class by which the workbench says what kind of theme it wears. */
const baseOf: Record<Theme, string> = { dark: 'vs-dark', light: 'vs', 'high-contrast': 'hc-black', 'high-contrast-light': 'hc-light' };

const fileName = (path: string) => path.slice(path.lastIndexOf('/') + 1);

/** Runs in the page: the middle of the nth occurrence of some words among the editor's visible lines, null while there is none. */
function placeOfWords({ words, nth }: { words: string; nth: number }): { x: number; y: number } | null {
  let left = nth;
  const lines = [...document.querySelectorAll<HTMLElement>('.editor-instance .view-line')].sort((a, b) => a.offsetTop - b.offsetTop);
  for (const line of lines) {
    // The editor writes spaces that do not break.
    const text = (line.textContent ?? '').replaceAll('\u00a0', ' ');
    for (let from = text.indexOf(words); from >= 0; from = text.indexOf(words, from + 1)) {
      if (left-- > 0) continue;
      const walker = document.createTreeWalker(line, NodeFilter.SHOW_TEXT);
      const middle = from + Math.floor(words.length / 2);
      for (let passed = 0, node = walker.nextNode(); node; passed += node.textContent!.length, node = walker.nextNode()) {
        if (middle >= passed + node.textContent!.length) continue;
        const range = document.createRange();
        range.setStart(node, middle - passed);
        range.setEnd(node, middle - passed + 1);
        const box = range.getBoundingClientRect();
        return { x: box.left + 1, y: box.top + box.height / 2 };
      }
    }
  }
  return null;
}
