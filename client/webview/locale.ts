// Loaded before the plot library, which formats numbers in the browser's language: in one started with a POSIX locale that is no valid tag.

try {
  new Intl.NumberFormat(navigator.language);
} catch {
  Object.defineProperty(navigator, 'language', { value: 'en-US', configurable: true });
}

export {};
