// Where the editor tests keep things: what is under test, what is cached between runs, what is left to be looked at.
import { join, resolve } from 'node:path';

/** The checkout, which is also the extension under test. */
export const root = resolve(import.meta.dirname, '../..');

/** Editors and browsers, installed once and kept between runs. */
export const cacheFolder = join(root, '.vscode-test');

/** The mocha suite, bundled for the extension host, which loads CommonJS. */
export const bundleFolder = join(root, '.build/editor-suite');

export const screenshotFolder = join(root, 'test/editor/screenshots');

/** `npm run pictures`: what the scenes keep is what the package and the README show from then on. */
export const takesPictures = process.argv.includes('--pictures');
export const pictureFolder = takesPictures ? join(root, 'client/media') : screenshotFolder;
