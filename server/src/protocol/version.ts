// The version, put in by the bundler; run from source there is none.

declare const LEANSPOT_VERSION: string | undefined;

export const VERSION: string = typeof LEANSPOT_VERSION === 'string' ? LEANSPOT_VERSION : '0.0.0-source';
