// The page that a view starts from: one script and one style sheet for all views, and nothing else may load.

import { env, l10n, Uri, type Webview, type WebviewOptions } from 'vscode';
import { toBase64 } from '../../server/src/protocol/base64.js';

/** The panels' kinds, by which the editor restores them. */
export const PANEL_TYPES = { trace: 'leanspot.tracePanel', table: 'leanspot.tablePanel' } as const;
export type ViewKind = keyof typeof PANEL_TYPES;

const titleOf = (view: ViewKind): string => ({ trace: l10n.t('Trace'), table: l10n.t('Table') })[view];

const folder = (extensionUri: Uri): Uri => Uri.joinPath(extensionUri, 'dist', 'webview');

export const webviewOptions = (extensionUri: Uri): WebviewOptions => ({
  enableScripts: true,
  enableCommandUris: false,
  localResourceRoots: [folder(extensionUri)],
});

export function pageOf(webview: Webview, extensionUri: Uri, view: ViewKind): string {
  const nonce = toBase64(crypto.getRandomValues(new Uint8Array(18)));
  const resource = (name: string): string => webview.asWebviewUri(Uri.joinPath(folder(extensionUri), name)).toString();
  return `<!DOCTYPE html>
<html lang="${env.language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${webview.cspSource}; script-src 'nonce-${nonce}'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="stylesheet" href="${resource('views.css')}">
<title>${titleOf(view)}</title>
</head>
<body data-view="${view}"><script nonce="${nonce}" src="${resource('views.js')}"></script></body>
</html>`;
}
