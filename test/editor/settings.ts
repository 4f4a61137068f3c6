// The user settings an editor under test starts with: nothing that fetches, asks, or moves on a screenshot.
import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

export const quiet = {
  'workbench.startupEditor': 'none',
  'workbench.tips.enabled': false,
  'workbench.reduceMotion': 'on',
  'workbench.enableExperiments': false,
  // On by default in a browser; a test types without saving.
  'files.autoSave': 'off',
  'editor.cursorBlinking': 'solid',
  'workbench.quickOpen.closeOnFocusLost': false,
  'extensions.ignoreRecommendations': true,
  'extensions.autoCheckUpdates': false,
  'extensions.autoUpdate': false,
  'telemetry.telemetryLevel': 'off',
  'security.workspace.trust.startupPrompt': 'never',
  'security.workspace.trust.banner': 'never',
  'update.mode': 'none',
  'update.showReleaseNotes': false,
  'git.enabled': false,
  'npm.autoDetect': 'off',
  // Where the harness switches the theme; a picture does without.
  'files.exclude': { '**/.vscode': true },
};

/** Writes the user settings where code-server reads them when a window opens. */
export function writeUserSettings(dataFolder: string, more: Record<string, unknown> = {}): void {
  write(join(dataFolder, 'user/User/settings.json'), { ...quiet, ...more });
}

/** Writes the settings of a workspace folder, which an open window follows at once. */
export function writeFolderSettings(folder: string, settings: Record<string, unknown>): void {
  write(join(folder, '.vscode/settings.json'), settings);
}

function write(file: string, settings: Record<string, unknown>): void {
  mkdirSync(dirname(file), { recursive: true });
  writeFileSync(file, JSON.stringify(settings, null, 2));
}
