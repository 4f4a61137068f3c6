// The page that a trace view starts from: one script, one style sheet, nothing else may load.

import { randomBytes } from 'node:crypto';
import { env, Uri, type Webview, type WebviewOptions } from 'vscode';

/** The panel's kind, by which the editor restores it. */
export const PANEL_TYPE = 'leanspot.tracePanel';

const folder = (extensionUri: Uri): Uri => Uri.joinPath(extensionUri, 'dist', 'webview');

export const webviewOptions = (extensionUri: Uri): WebviewOptions => ({ enableScripts: true, enableCommandUris: false, localResourceRoots: [folder(extensionUri)] });

export function pageOf(webview: Webview, extensionUri: Uri): string {
  const nonce = randomBytes(18).toString('base64');
  const resource = (name: string): string => webview.asWebviewUri(Uri.joinPath(folder(extensionUri), name)).toString();
  return `<!DOCTYPE html>
<html lang="${env.language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src ${webview.cspSource}; script-src 'nonce-${nonce}'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="stylesheet" href="${resource('trace.css')}">
<title>Trace</title>
</head>
<body><script nonce="${nonce}" src="${resource('trace.js')}"></script></body>
</html>`;
}
