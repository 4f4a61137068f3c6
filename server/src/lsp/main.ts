// Starts the language server on standard input and output.

export function serveStdio(): void {
}
