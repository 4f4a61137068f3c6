// How a scene is written down: a name, what is open, and what a person does and must see.
import type { EditorWindow } from './editorWindow.js';

/** The colours a picture is taken in, and how the editor calls them. A scene is played in the first. */
export const themes = {
  dark: 'Default Dark Modern',
  light: 'Default Light Modern',
  'high-contrast': 'Default High Contrast',
  'high-contrast-light': 'Default High Contrast Light',
} as const;

export type Theme = keyof typeof themes;

export interface Scene {
  name: string;
  /** Paths in the workspace folder that are open when the scene begins; the last is shown. */
  files: string[];
  /** False opens the folder in restricted mode. */
  trusted: boolean;
  settings: Record<string, unknown>;
  /** It saves something: of every other scene the files are the same bytes afterwards. */
  writes: boolean;
  /** Keeps pictures for the package or the README; in `npm run pictures` only such scenes are played. */
  pictures: boolean;
  /** Played with the extension installed from its package, in an editor that has seen nothing of it before. */
  installed: boolean;
  /** Played in the editor that is a page alone, with the extension in a worker; in one theme. */
  web: boolean;
  play: (window: EditorWindow) => Promise<void>;
}

const written: Scene[] = [];

export const allScenes = (): readonly Scene[] => written;

/** Adds a scene. It is played in a fresh window over a fresh copy of the workspace, and ends with a picture in each theme. */
export function scene(name: string, options: Partial<Omit<Scene, 'name' | 'play'>>, play: Scene['play']): void {
  written.push({
    name,
    play,
    files: [],
    trusted: true,
    settings: {},
    writes: false,
    web: false,
    pictures: false,
    installed: false,
    ...options,
  });
}
