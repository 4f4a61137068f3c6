// The user's settings, asked for per file and kept until they change.

import type { Connection } from 'vscode-languageserver';
import type { Severity } from '../findings/finding.js';
import { DEFAULT_MAX_CHANGE_PERCENT } from '../fueling/change/correct.js';

/** Settings of a file; names as in the manifest, below `leanspot.`. */
export interface Settings {
  readonly hover: { readonly enable: boolean };
  readonly inlayHints: { readonly enable: boolean };
  readonly codeLens: { readonly enable: boolean };
  readonly check: { readonly severity: Severity };
  readonly correct: { readonly maxChangePercent: number };
}

const SEVERITIES: readonly unknown[] = ['error', 'warning', 'information', 'hint'] satisfies Severity[];

/** As in the manifest, for clients that do not read it: a step of less changes nothing, one of more is not for one log. */
const CHANGE_PERCENT = { least: 0.5, most: 25 };

export const DEFAULTS: Settings = {
  hover: { enable: true },
  inlayHints: { enable: true },
  codeLens: { enable: true },
  check: { severity: 'hint' },
  correct: { maxChangePercent: DEFAULT_MAX_CHANGE_PERCENT },
};

export interface SettingsOf {
  (uri: string): Promise<Settings>;
  /** They may have changed. */
  forget(): void;
}

/** Asks the client where it can answer (`workspace/configuration`), else the defaults hold. */
export function settingsFrom(connection: Connection, canAsk: () => boolean): SettingsOf {
  const kept = new Map<string, Promise<Settings>>();
  const ask = async (uri: string): Promise<Settings> => {
    try {
      return withDefaults(await connection.workspace.getConfiguration({ scopeUri: uri, section: 'leanspot' }));
    } catch (error) {
      connection.console.warn(`Settings could not be read, the defaults hold: ${String(error)}`);
      return DEFAULTS;
    }
  };
  const settingsOf = (uri: string): Promise<Settings> => {
    if (!canAsk()) return Promise.resolve(DEFAULTS);
    let settings = kept.get(uri);
    if (!settings) kept.set(uri, (settings = ask(uri)));
    return settings;
  };
  return Object.assign(settingsOf, { forget: () => kept.clear() });
}

/** What the client sent over the defaults; what cannot be is passed over, a step outside its bounds is held to them. */
export function withDefaults(sent: unknown): Settings {
  const groups = Object.entries(DEFAULTS).map(([group, defaults]) => {
    const given = (sent as Record<string, Record<string, unknown> | undefined> | null)?.[group];
    return [
      group,
      Object.fromEntries(
        Object.entries(defaults).map(([name, value]) => [name, typeof given?.[name] === typeof value ? given![name] : value]),
      ),
    ];
  });
  const {
    check: { severity },
    correct: { maxChangePercent },
    ...rest
  } = Object.fromEntries(groups) as Settings;
  return {
    ...rest,
    check: { severity: SEVERITIES.includes(severity) ? severity : DEFAULTS.check.severity },
    correct: {
      maxChangePercent: Number.isNaN(maxChangePercent)
        ? DEFAULTS.correct.maxChangePercent
        : Math.min(CHANGE_PERCENT.most, Math.max(CHANGE_PERCENT.least, maxChangePercent)),
    },
  };
}
