// Where the editor tests keep things: what is under test, what is cached between runs, what is left to be looked at.
import { join, resolve } from 'node:path';

/** The checkout, which is also the extension under test. */
export const root = resolve(import.meta.dirname, '../..');

/** Editors and browsers, installed once and kept between runs. */
export const cacheFolder = join(root, '.vscode-test');

/** The mocha suite, bundled for the extension host, which loads CommonJS. */
export const bundleFolder = join(root, '.build/editor-suite');

export const screenshotFolder = join(root, 'test/editor/screenshots');
