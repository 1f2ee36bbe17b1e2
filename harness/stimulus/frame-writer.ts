// Frames of voltages into a file as it goes: WAV of 24-bit whole numbers or 32-bit floats, or CSV.
//
// RIFF/WAVE: Microsoft/IBM Multimedia Programming Interface and Data Specifications 1.0 (1991);
// WAVE_FORMAT_EXTENSIBLE: Microsoft, Multiple Channel Audio Data and WAVE Files (2001). From memory.
import { type Hash, createHash } from "node:crypto";
import { closeSync, openSync, writeSync } from "node:fs";

export type FrameFormat = "wav24" | "wav-float" | "csv";

export interface FrameLayout {
  sampleRateHz: number;
  sampleCount: number;
  /** Voltage that ±1 stands for. */
  fullScaleV: number;
  names: string[];
  /** Sample at which the scenario's time is 0. */
  zeroSample: number;
}

const FORMAT_WHOLE = 1;
const FORMAT_FLOAT = 3;
const FORMAT_EXTENSIBLE = 0xfffe;
/** Bytes 2 … 15 of the sub-format GUIDs. */
const SUB_FORMAT_TAIL = Buffer.from("000000001000800000aa00389b71", "hex");
const FMT_BYTES = 40;
const HEADER_BYTES = 12 + 8 + FMT_BYTES + 12 + 8;
const RIFF_BYTES_MAX = 0xffffffff;
const I24_MAX = 0x7fffff;
/** Nine significant digits give a voltage back within the step of 24 bits. */
const CSV_DIGITS = 9;

/** Largest |v| / full scale that the format holds. */
export function fullScaleShare(format: FrameFormat): number {
  return format === "wav24" ? I24_MAX / (I24_MAX + 1) : 1;
}

/** Half a step of what is written, volts; the bound of its error. */
export function roundingV(format: FrameFormat, fullScaleV: number): number {
  switch (format) {
    case "wav24":
      return fullScaleV / (I24_MAX + 1) / 2;
    case "wav-float":
      return fullScaleV * 2 ** -25;
    case "csv":
      return (fullScaleV * 10 ** (1 - CSV_DIGITS)) / 2;
  }
}

/** What the file holds of a voltage, volts. */
export function writtenV(format: FrameFormat, fullScaleV: number, value: number): number {
  switch (format) {
    case "wav24":
      return (Math.round((value / fullScaleV) * (I24_MAX + 1)) / (I24_MAX + 1)) * fullScaleV;
    case "wav-float":
      return Math.fround(value / fullScaleV) * fullScaleV;
    case "csv":
      return Number(value.toPrecision(CSV_DIGITS));
  }
}

/** Bytes of a sample; of CSV none is known beforehand. */
const sampleBytes = (format: FrameFormat): number => (format === "wav24" ? 3 : 4);

/** Why a file cannot hold so many samples, in a sentence; undefined where it can. */
export function tooLong(format: FrameFormat, layout: FrameLayout): string | undefined {
  if (format === "csv") return undefined;
  const bytes = HEADER_BYTES + layout.sampleCount * layout.names.length * sampleBytes(format);
  if (bytes + 1 <= RIFF_BYTES_MAX) return undefined;
  const gigabytes = (bytes / 2 ** 30).toFixed(1);
  return `a WAV file holds 4 GiB, and this would take ${gigabytes}; a shorter scenario or csv fits`;
}

function wavHeader(format: FrameFormat, layout: FrameLayout): Buffer {
  const { sampleRateHz, sampleCount, names } = layout;
  const width = sampleBytes(format);
  const frameBytes = names.length * width;
  const dataBytes = sampleCount * frameBytes;
  const header = Buffer.alloc(HEADER_BYTES);
  header.write("RIFF", 0);
  header.writeUInt32LE(HEADER_BYTES - 8 + dataBytes + (dataBytes & 1), 4);
  header.write("WAVEfmt ", 8);
  header.writeUInt32LE(FMT_BYTES, 16);
  header.writeUInt16LE(FORMAT_EXTENSIBLE, 20);
  header.writeUInt16LE(names.length, 22);
  header.writeUInt32LE(sampleRateHz, 24);
  header.writeUInt32LE(sampleRateHz * frameBytes, 28);
  header.writeUInt16LE(frameBytes, 32);
  header.writeUInt16LE(8 * width, 34);
  header.writeUInt16LE(22, 36);
  header.writeUInt16LE(8 * width, 38);
  // No loudspeakers: the mask stays 0.
  header.writeUInt32LE(0, 40);
  header.writeUInt16LE(format === "wav24" ? FORMAT_WHOLE : FORMAT_FLOAT, 44);
  SUB_FORMAT_TAIL.copy(header, 46);
  header.write("fact", 60);
  header.writeUInt32LE(4, 64);
  header.writeUInt32LE(sampleCount, 68);
  header.write("data", 72);
  header.writeUInt32LE(dataBytes, 76);
  return header;
}

function cell(name: string): string {
  return /[",\n\r]/.test(name) ? `"${name.replaceAll('"', '""')}"` : name;
}

/** Writes frames in order; what was written is whole once `end` has returned. */
export class FrameWriter {
  readonly #file: number;
  readonly #format: FrameFormat;
  readonly #layout: FrameLayout;
  readonly #hash: Hash = createHash("sha256");
  #bytes = 0;

  /** Errors: of the file system; a file that is there is not written over. */
  constructor(path: string, format: FrameFormat, layout: FrameLayout) {
    this.#file = openSync(path, "wx");
    this.#format = format;
    this.#layout = layout;
    if (format === "csv") this.#put(Buffer.from(`time,${layout.names.map(cell).join(",")}\n`));
    else {
      this.#put(wavHeader(format, layout));
      this.#bytes = 0;
    }
  }

  #put(bytes: Buffer): void {
    for (let at = 0; at < bytes.length;) at += writeSync(this.#file, bytes, at);
    this.#hash.update(bytes);
    this.#bytes += bytes.length;
  }

  /** Volts as `writtenV` gives them. */
  write(firstSample: number, sampleCount: number, volts: readonly Float64Array[]): void {
    if (this.#format === "csv") this.#put(this.#csv(firstSample, sampleCount, volts));
    else this.#put(this.#wav(sampleCount, volts));
  }

  #csv(firstSample: number, sampleCount: number, volts: readonly Float64Array[]): Buffer {
    const { sampleRateHz, zeroSample } = this.#layout;
    const lines: string[] = [];
    for (let i = 0; i < sampleCount; i += 1) {
      const timeS = (firstSample + i - zeroSample) / sampleRateHz;
      const values = volts.map((column) => String(Number(column[i]!.toPrecision(CSV_DIGITS))));
      lines.push(`${timeS.toFixed(9)},${values.join(",")}\n`);
    }
    return Buffer.from(lines.join(""));
  }

  #wav(sampleCount: number, volts: readonly Float64Array[]): Buffer {
    const width = sampleBytes(this.#format);
    const { fullScaleV } = this.#layout;
    const out = Buffer.alloc(sampleCount * volts.length * width);
    let at = 0;
    for (let i = 0; i < sampleCount; i += 1) {
      for (const column of volts) {
        const share = column[i]! / fullScaleV;
        if (width === 3) out.writeIntLE(Math.round(share * (I24_MAX + 1)), at, 3);
        else out.writeFloatLE(share, at);
        at += width;
      }
    }
    return out;
  }

  /** Ends the file and gives its SHA-256, hex. */
  end(): string {
    // A chunk of an odd length is followed by a byte that does not count.
    if (this.#format !== "csv" && this.#bytes % 2 === 1) this.#put(Buffer.alloc(1));
    closeSync(this.#file);
    return this.#hash.digest("hex");
  }

  /** Closes a file that will not be whole. */
  abandon(): void {
    closeSync(this.#file);
  }
}
