// The head of a RIFF/WAVE file: Microsoft/IBM Multimedia Programming Interface 1.0 (1991), and
// WAVE_FORMAT_EXTENSIBLE (Microsoft, Multiple Channel Audio Data and WAVE Files, 2001).
import { readSync } from "node:fs";
import { InputError } from "../../host/input-error.ts";

const FORMAT_WHOLE = 1;
const FORMAT_FLOAT = 3;
const FORMAT_EXTENSIBLE = 0xfffe;
/** Bytes 2 … 15 of the sub-format GUIDs; bytes 0, 1 are the plain format number. */
const SUB_FORMAT_TAIL = "000000001000800000aa00389b71";
/** Length of a data chunk that was written as a stream (common practice, no source). */
const BYTES_NOT_KNOWN = 0xffffffff;
const CHUNKS_MAX = 1000;
const CHANNELS_MAX = 64;

export interface WavHeader {
  encoding: "i16" | "i24" | "i32" | "f32" | "f64";
  channelCount: number;
  sampleRateHz: number;
  bytesPerFrame: number;
  dataFrom: number;
  /** Whole frames that the file really holds. */
  frameCount: number;
  notes: string[];
  /** Where the file ends before its samples do. */
  cut: InputError | undefined;
}

interface Format {
  encoding: WavHeader["encoding"];
  channelCount: number;
  sampleRateHz: number;
  bytesPerFrame: number;
}

function complain(path: string, byte: number, message: string): InputError {
  return new InputError({ file: path, line: 0, column: 0, byte, message });
}

function readFormat(path: string, bytes: Buffer, at: number): Format {
  if (bytes.length < 16)
    throw complain(path, at, `fmt chunk of ${bytes.length} bytes, at least 16`);
  let format = bytes.readUInt16LE(0);
  const channelCount = bytes.readUInt16LE(2);
  const sampleRateHz = bytes.readUInt32LE(4);
  const bytesPerFrame = bytes.readUInt16LE(12);
  const bits = bytes.readUInt16LE(14);
  if (format === FORMAT_EXTENSIBLE) {
    if (bytes.length < 40)
      throw complain(path, at, "extensible fmt chunk is shorter than 40 bytes");
    if (bytes.subarray(26, 40).toString("hex") !== SUB_FORMAT_TAIL) {
      throw complain(path, at + 24, "sub-format is neither whole numbers nor float");
    }
    format = bytes.readUInt16LE(24);
  }
  if (channelCount < 1 || channelCount > CHANNELS_MAX) {
    throw complain(path, at + 2, `${channelCount} channels, 1 to ${CHANNELS_MAX} are read`);
  }
  if (sampleRateHz < 1) throw complain(path, at + 4, "sample rate is 0 Hz");
  const encoding = encodingOf(format, bits);
  if (encoding === undefined) {
    throw complain(
      path,
      at,
      `format ${format} of ${bits} bits; 16, 24, 32-bit whole numbers and 32, 64-bit float are read`,
    );
  }
  if (bytesPerFrame !== (channelCount * bits) / 8) {
    throw complain(
      path,
      at + 12,
      `${bytesPerFrame} bytes a frame do not fit ${channelCount} channels of ${bits} bits`,
    );
  }
  return { encoding, channelCount, sampleRateHz, bytesPerFrame };
}

function encodingOf(format: number, bits: number): WavHeader["encoding"] | undefined {
  if (format === FORMAT_WHOLE && bits === 16) return "i16";
  if (format === FORMAT_WHOLE && bits === 24) return "i24";
  if (format === FORMAT_WHOLE && bits === 32) return "i32";
  if (format === FORMAT_FLOAT && bits === 32) return "f32";
  if (format === FORMAT_FLOAT && bits === 64) return "f64";
  return undefined;
}

/**
 * Reads the head of a WAV file and finds its samples.
 *
 * Errors    InputError with the byte offset: no RIFF/WAVE, no fmt or data chunk, a format that is
 *           not read, no samples. A data chunk longer than the file is given as `cut` and read as
 *           far as it goes.
 */
export function readWavHeader(path: string, file: number, fileBytes: number): WavHeader {
  const head = Buffer.alloc(12);
  const got = readSync(file, head, 0, 12, 0);
  if (got < 12 || head.toString("latin1", 0, 4) !== "RIFF") {
    throw complain(path, 0, got === 0 ? "the file is empty" : "no RIFF at the start");
  }
  if (head.toString("latin1", 8, 12) !== "WAVE") throw complain(path, 8, "no WAVE after RIFF");
  let format: Format | undefined;
  let at = 12;
  for (let chunk = 0; chunk < CHUNKS_MAX && at + 8 <= fileBytes; chunk += 1) {
    readSync(file, head, 0, 8, at);
    const name = head.toString("latin1", 0, 4);
    const length = head.readUInt32LE(4);
    at += 8;
    if (name === "fmt ") {
      const body = Buffer.alloc(Math.min(length, 64, fileBytes - at));
      readSync(file, body, 0, body.length, at);
      format = readFormat(path, body, at);
    } else if (name === "data") {
      if (format === undefined) throw complain(path, at - 8, "data chunk before the fmt chunk");
      return withData(path, format, at, length, fileBytes);
    }
    at += length + (length & 1);
  }
  const missing = format === undefined ? "fmt" : "data";
  throw complain(path, Math.min(at, fileBytes), `the file ends before its ${missing} chunk`);
}

function withData(
  path: string,
  format: Format,
  dataFrom: number,
  statedBytes: number,
  fileBytes: number,
): WavHeader {
  const held = Math.min(statedBytes, fileBytes - dataFrom);
  const frameCount = Math.floor(held / format.bytesPerFrame);
  if (frameCount === 0) throw complain(path, dataFrom, "the data chunk holds no samples");
  const notes: string[] = [];
  let cut: InputError | undefined;
  if (statedBytes === BYTES_NOT_KNOWN && held < statedBytes) {
    notes.push(
      `The file does not say how long it is: ${frameCount} samples a channel stand in it.`,
    );
  } else if (held < statedBytes) {
    const message =
      `the file ends ${statedBytes - held} bytes before its data chunk does; ` +
      `${frameCount} samples a channel stand before that`;
    cut = complain(path, fileBytes, message);
  } else if (held % format.bytesPerFrame !== 0) {
    notes.push(`byte ${dataFrom + held}: the last frame is cut short and is left out`);
  }
  return { ...format, dataFrom, frameCount, notes, cut };
}
