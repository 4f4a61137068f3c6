// The one status item: what was found in the open folders, or what the server is doing, in words.

import { l10n, StatusBarAlignment, ThemeColor, window, type Disposable, type StatusBarItem } from 'vscode';
import { State } from 'vscode-languageclient';
import type { StatusParams } from '../../server/src/protocol/messages.js';

export class StatusItem implements Disposable {
  private readonly item: StatusBarItem;

  constructor() {
    this.item = window.createStatusBarItem('leanspot.status', StatusBarAlignment.Left, 10);
    this.item.name = 'Leanspot';
    this.item.command = 'workbench.actions.view.problems';
    this.item.text = '$(loading~spin) Leanspot';
    this.item.show();
  }

  show({ state, what, sessions, tables, errors, warnings }: StatusParams): void {
    this.item.text = state === 'busy' ? '$(loading~spin) Leanspot' : `$(${errors ? 'error' : warnings ? 'warning' : 'pass'}) Leanspot`;
    const read = l10n.t('{0} sessions, {1} tables read', sessions, tables);
    const found = l10n.t('{0} errors, {1} warnings', errors, warnings);
    this.item.tooltip = state === 'busy' && what ? `${what}\n${read}` : `${found}\n${read}`;
    this.item.accessibilityInformation = { label: `Leanspot: ${state === 'busy' && what ? what : found}` };
    this.item.backgroundColor = undefined;
  }

  serverState(state: State): void {
    if (state !== State.Stopped) return;
    this.item.text = '$(debug-disconnect) Leanspot';
    this.item.tooltip = l10n.t('The language server is not running. Run "Leanspot: Restart Language Server".');
    this.item.backgroundColor = new ThemeColor('statusBarItem.errorBackground');
  }

  dispose(): void {
    this.item.dispose();
  }
}
