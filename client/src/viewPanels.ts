// Views of files that are open: panels beside the text, restored after a reload; one line of talk for each.

import { Uri, ViewColumn, window, type Disposable, type Webview, type WebviewPanel } from 'vscode';
import { PANEL_TYPES, pageOf, webviewOptions, type ViewKind } from './viewPage.js';

export interface ViewTalk extends Disposable {
  readonly uri: Uri;
}

export interface ViewPanels<Talk extends ViewTalk> {
  /** The file's panel, brought to the front where there is one, else made. */
  show(uri: Uri): Talk;
  /** Puts the view into a panel that the editor made. */
  attach(uri: Uri, panel: WebviewPanel): Talk;
  restore(panel: WebviewPanel, state: unknown): void;
  dispose(): void;
}

export interface ViewPanelOptions<Talk> {
  readonly view: ViewKind;
  /** Of a panel, from the file's name. */
  title(name: string): string;
  talk(uri: Uri, webview: Webview): Talk;
  /** A panel that is brought to the front leaves the focus where it is. */
  readonly preserveFocus: boolean;
}

export function createViewPanels<Talk extends ViewTalk>(
  extensionUri: Uri,
  { view, title, talk: makeTalk, preserveFocus }: ViewPanelOptions<Talk>,
): ViewPanels<Talk> {
  const open = new Map<WebviewPanel, Talk>();

  const attach = (uri: Uri, panel: WebviewPanel): Talk => {
    panel.webview.options = webviewOptions(extensionUri);
    const talk = makeTalk(uri, panel.webview);
    open.set(panel, talk);
    panel.onDidDispose(() => {
      open.delete(panel);
      talk.dispose();
    });
    panel.webview.html = pageOf(panel.webview, extensionUri, view);
    return talk;
  };

  return {
    attach,

    show(uri) {
      for (const [panel, talk] of open) {
        if (talk.uri.toString() !== uri.toString()) continue;
        panel.reveal(undefined, preserveFocus);
        return talk;
      }
      return attach(
        uri,
        window.createWebviewPanel(
          PANEL_TYPES[view],
          title(uri.path.slice(uri.path.lastIndexOf('/') + 1)),
          { viewColumn: ViewColumn.Beside, preserveFocus: false },
          webviewOptions(extensionUri),
        ),
      );
    },

    restore(panel, state) {
      const uri = (state as { uri?: unknown } | undefined)?.uri;
      if (typeof uri === 'string') attach(Uri.parse(uri), panel);
      else panel.dispose();
    },

    dispose() {
      for (const [panel] of open) panel.dispose();
    },
  };
}
