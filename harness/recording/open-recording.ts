import { fileComplaint } from "../../host/input-error.ts";
import { openCsv } from "./csv-reader.ts";
import type { Recording } from "./recording.ts";
import { openWav } from "./wav-reader.ts";

/**
 * Opens a recording by its ending: .wav, or .csv, .txt, .tsv as text.
 *
 * Errors    InputError with line and column, or byte offset
 */
export async function openRecording(path: string): Promise<Recording> {
  if (/\.wav$/i.test(path)) return openWav(path);
  if (/\.(csv|txt|tsv)$/i.test(path)) return openCsv(path);
  throw fileComplaint(path, "a recording is .wav, .csv, .txt or .tsv");
}
