// Recordings that cannot be read at all, to `replay`.
import { toneRows, toneWav } from "../kit/small-recording.ts";
import { type Content, type Kind, OUT } from "./kind.ts";

const rows = toneRows(6000);
const csv = `${rows.join("\n")}\n`;
const wav = toneWav(6000);
/** The CSV with one of its lines, counted from 1, as given. */
const withLine = (line: number, text: string): string => csv.replace(rows[line - 1]!, text);

type Row = [what: string, file: string, content: Content | undefined, told: string];

export const REFUSED: Row[] = [
  ["an empty WAV", "empty.wav", "", ": byte 0: the file is empty"],
  ["a text as WAV", "text.wav", csv, ": byte 0: no RIFF at the start"],
  ["a WAV cut in its head", "head.wav", wav.subarray(0, 30), ": byte 20: fmt chunk of 10 bytes"],
  ["a WAV cut before its data", "fmt.wav", wav.subarray(0, 36), ": byte 36: the file ends before"],
  ["a WAV cut at its data", "none.wav", wav.subarray(0, 44), ": byte 44: the data chunk holds no"],
  ["2 GB of zeros as WAV", "huge.wav", undefined, ": byte 0: no RIFF at the start"],
  ["a folder as WAV", "folder.wav", undefined, ": is a folder, a file is needed"],
  ["an empty CSV", "empty.csv", "", ":1:1: the file is empty"],
  ["empty lines", "blank.csv", "\n\n \n", ":1:1: the file is empty"],
  ["a header only", "header.csv", `${rows[0]}\n`, ":2:1: only a header, no samples"],
  ["one row", "one.csv", `${rows[0]}\n${rows[1]}\n`, ":3:1: one row; its time says no sample rate"],
  ["NaN in the header", "nan-head.csv", csv.replace("a,", "NaN,"), ":1:2: column 2 has no name"],
  ["NaN in the first times", "nan-first.csv", withLine(4, "nan,1,1"), ':4:1: time: "nan" is not a'],
  ["a decimal comma", "comma.csv", "time;a\n0,0;1\n0,1;2\n", '"0,0" is not a number; write a dec'],
  [
    "an open quote",
    "quote.csv",
    withLine(4, '"0.0010,1,1'),
    ":4:1: a quotation mark is not closed",
  ],
  ["2 GB of zeros as CSV", "huge.csv", undefined, ":1:1: is no text: a zero byte stands here"],
  ["a folder as CSV", "folder.csv", undefined, ": is a folder, a file is needed"],
  [
    "Latin-1",
    "latin.csv",
    Buffer.from(csv.replace("a,", "\u00e9,"), "latin1"),
    ":1:6: is not a te",
  ],
  [
    "UTF-16",
    "utf16.csv",
    Buffer.from(`\ufeff${csv}`, "utf16le"),
    ":1:1: is not a text in UTF-8 but",
  ],
  [
    "noise as CSV",
    "noise.csv",
    Uint8Array.of(0x31, 0xfe, 0x00, 0x0a),
    ":1:2: is not a text in UTF",
  ],
  ["no line end", "line.csv", `1${",1".repeat(200_000)}`, ":1:1: the first line is longer than"],
  ["another ending", "sound.mp3", "x", ": a recording is .wav, .csv, .txt or .tsv"],
  ["no file", "nothing.csv", undefined, ": there is no such file"],
];

export const RECORDING_KINDS: Kind[] = REFUSED.map(([what, file, content, told]) => ({
  group: "files",
  what,
  files: content === undefined ? {} : { [file]: content },
  args: ["replay", `…/${file}`, "--speed", "20 rev/s", ...OUT],
  told: [`…/${file}`, told],
  code: 2,
}));
