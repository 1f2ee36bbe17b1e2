// The discrete Fourier transform of real samples.
import FFT from "fft.js";

/** One size's transform, with its room. */
export class RealSpectrum {
  readonly size: number;
  /** Real and imaginary parts of the bins 0 to size/2 in turn. */
  readonly bins: Float64Array;
  readonly input: Float64Array;
  readonly #fft: FFT;

  /** Errors: RangeError where the size is no power of two of 4 or more. */
  constructor(size: number) {
    if (!(size >= 4) || 2 ** Math.round(Math.log2(size)) !== size) {
      throw new RangeError(`a transform of ${size} points`);
    }
    this.size = size;
    this.bins = new Float64Array(2 * size);
    this.input = new Float64Array(size);
    this.#fft = new FFT(size);
  }

  /** Transforms what stands in `input`: X(b) = Σ x(i)·e^(−j2πbi/size). */
  transform(): void {
    this.#fft.realTransform(this.bins, this.input);
  }
}

/** Transforms by their size, each made once. */
export class SpectrumStore {
  readonly #made = new Map<number, RealSpectrum>();

  of(size: number): RealSpectrum {
    const found = this.#made.get(size) ?? new RealSpectrum(size);
    this.#made.set(size, found);
    return found;
  }
}

/** The least power of two at or above a value. */
export function powerOfTwo(least: number): number {
  return 2 ** Math.max(2, Math.ceil(Math.log2(least)));
}
