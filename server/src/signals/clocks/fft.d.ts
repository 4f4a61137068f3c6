// What of fft.js is used here; the package brings no types.

declare module 'fft.js' {
  export default class FFT {
    /** `size`: a power of two. */
    constructor(size: number);
    createComplexArray(): number[];
    /** Fills the lower half of the spectrum; `completeSpectrum` the upper. */
    realTransform(out: number[], data: ArrayLike<number>): void;
    completeSpectrum(spectrum: number[]): void;
    inverseTransform(out: number[], data: ArrayLike<number>): void;
  }
}
