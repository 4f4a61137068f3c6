// Loaded before the plot library, which formats numbers in the browser's language: they are to be in the editor's, and one started with a
// POSIX locale has no valid tag.

const isTag = (language: string): boolean => {
  try {
    return Intl.getCanonicalLocales(language).length > 0;
  } catch {
    return false;
  }
};

const language = [document.documentElement.lang, navigator.language].find(isTag) ?? 'en-US';
Object.defineProperty(navigator, 'language', { value: language, configurable: true });

export {};
