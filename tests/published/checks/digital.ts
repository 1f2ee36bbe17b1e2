// Check code, frame constants, output word, converter, f32: the firmware's and the host's own.
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { beforeAll, expect } from "vitest";
import crc32 from "crc/calculators/crc32";
import * as L from "../../../shared/layout.ts";
import * as LINK from "../../../shared/link.ts";
import { FAILURE, FUNCTIONAL_TEST, NO_COMPUTED_DATA, VALID } from "../../../shared/units.ts";
import { configurationBytes, sealConfiguration } from "../../../host/profile/configuration.ts";
import { readProfileFile } from "../../../host/profile/profile-reader.ts";
import { openWav } from "../../../harness/recording/wav-reader.ts";
import { convertChunk } from "../../../harness/waveform/converter.ts";
import { sampleKernel } from "../../../harness/waveform/sample-kernel.ts";
import { channelProfile, monitorProfile } from "../../kit/scene-builder.ts";
import { openStage, STAGE_BUILDS, stageModule, writeFields } from "../../assembly/kit/stage.ts";
import type { Stage } from "../../assembly/kit/stage.ts";
import { projectFiles, ROOT } from "../../repo/source-files.ts";
import { check, isWithin, near, trap } from "../check.ts";

interface CodeExports {
  memory: WebAssembly.Memory;
  crcOf(address: number, length: number): number;
  addressBytes(): number;
}

const stages: Stage[] = [];
const codes: ((bytes: number[]) => number)[] = [(bytes) => crc32(Uint8Array.from(bytes)) >>> 0];

beforeAll(async () => {
  for (const build of STAGE_BUILDS) {
    // oxlint-disable-next-line no-await-in-loop
    stages.push(await openStage(build));
    const source = { entry: "tests/assembly/kit/math-entry.ts", standIns: {} };
    // oxlint-disable-next-line no-await-in-loop
    const run = new WebAssembly.Instance(await stageModule(source, build), {})
      .exports as unknown as CodeExports;
    codes.push((bytes) => {
      new Uint8Array(run.memory.buffer).set(bytes, run.addressBytes());
      return run.crcOf(run.addressBytes(), bytes.length) >>> 0;
    });
  }
});

const DIGITS = Array.from("123456789").map((one) => one.codePointAt(0)!);

check("D-08", "CRC-32/ISO-HDLC of the nine digits, of nothing, of 00, of FF FF FF FF", () => {
  expect(codes).toHaveLength(3);
  for (const code of codes) {
    expect(code(DIGITS)).toBe(0xcbf43926);
    expect(code([])).toBe(0);
    expect(code([0])).toBe(0xd202ef8d);
    expect(code([255, 255, 255, 255])).toBe(0xffffffff);
    expect(code([...DIGITS, 0x26, 0x39, 0xf4, 0xcb])).toBe(LINK.CRC_RESIDUE);
  }
  expect(LINK.CRC_RESIDUE).toBe(0x2144df1c);
});
trap("D-01", "a name names several codes: the check values of the others are refused", () => {
  const others = [0x29b1, 0x31c3, 0x2189, 0x906e, 0x4b37, 0xbb3d, 0xd64e, 0xe5cc, 0x6f91, 0xb4c8];
  const wide = [0xe3069283, 0x0376e6e7, 0xfc891918, 0xaee7];
  for (const code of codes)
    for (const other of [...others, ...wide]) {
      expect(code(DIGITS)).not.toBe(other);
    }
});
check("D-08", "the configuration carries the code of what follows it", () => {
  const bytes = configurationBytes(monitorProfile());
  const view = new DataView(bytes.buffer);
  const sealed = view.getUint32(L.GLOBAL_CHECK, true);
  expect(codes[1]!([...bytes.subarray(L.GLOBAL_CHECK + 4)])).toBe(sealed);
  bytes[L.GLOBAL_CHECK + 4]! ^= 1;
  sealConfiguration(bytes);
  expect(view.getUint32(L.GLOBAL_CHECK, true)).not.toBe(sealed);
});

check("D-12", "END, ESC and their second bytes", () => {
  expect([LINK.SLIP_END, LINK.SLIP_ESC, LINK.SLIP_ESC_END, LINK.SLIP_ESC_ESC]).toEqual([
    192, 219, 220, 221,
  ]);
});

const compose = (label: number, bits: number, counts: number, validity = VALID): number[] =>
  stages.map(({ run }) => run.wordCompose(label, 0, bits, counts, validity) >>> 0);
const both = (word: number): number[] => [word, word];
const onesOf = (word: number): number => {
  let ones = 0;
  for (let bit = 0; bit < 32; bit += 1) ones += (word >>> bit) & 1;
  return ones;
};

check(
  "D-20",
  "matrix 00 failure, 01 no computed data, 10 test, 11 normal; the sign is bit 29",
  () => {
    const matrix = (validity: number): number[] =>
      compose(0o346, 10, 512, validity).map((word) => (word >>> 29) & 3);
    expect(matrix(FAILURE)).toEqual(both(0b00));
    expect(matrix(NO_COMPUTED_DATA)).toEqual(both(0b01));
    expect(matrix(FUNCTIONAL_TEST)).toEqual(both(0b10));
    expect(matrix(VALID)).toEqual(both(0b11));
    const sign = (counts: number): number[] =>
      compose(0o346, 10, counts).map((word) => (word >>> 28) & 1);
    expect(sign(-1)).toEqual(both(1));
    expect(sign(1)).toEqual(both(0));
  },
);
trap("D-20", "a discrete's matrix, where 00 is normal, is not taken for a number's", () => {
  const normal = compose(0o346, 10, 512).map((word) => (word >>> 29) & 3);
  expect(normal).not.toEqual(both(0b00));
  const failure = compose(0o346, 10, 512, FAILURE).map((word) => (word >>> 29) & 3);
  expect(failure).toEqual(both(0b00));
});
check("D-23", "layout of label 012 octal with data 2000; the label stands for layout alone", () => {
  expect(compose(0o012, 18, 2000)).toEqual(both(0xe01f4050));
});
/** Labels of binary words, octal, both ends among them. */
const BINARY_LABELS: readonly (readonly [from: number, until: number])[] = [
  [0o070, 0o124],
  [0o126, 0o144],
  [0o150, 0o154],
  [0o162, 0o164],
  [0o166, 0o167],
  [0o171, 0o177],
  [0o202, 0o227],
  [0o240, 0o257],
  [0o262, 0o265],
  [0o267, 0o267],
  [0o310, 0o347],
  [0o360, 0o376],
];
const isBinaryLabel = (label: number): boolean =>
  BINARY_LABELS.some(([from, until]) => label >= from && label <= until);
/** Labels of all words in the profiles that ship. */
function shippedLabels(): number[] {
  const paths = projectFiles().filter((one) => /^harness\/.*\.monitor\.yaml$/.test(one));
  return paths
    .flatMap((path) => readProfileFile(join(ROOT, path)).filters)
    .flatMap(({ display }) => (display.word === undefined ? [] : [display.word.label]));
}
check("D-32", "the labels in the profiles that ship belong to binary words", () => {
  expect(shippedLabels().length).toBeGreaterThan(1);
  expect(shippedLabels().filter((label) => !isBinaryLabel(label))).toEqual([]);
});
trap(
  "D-23",
  "label 012 belongs to decimal words: no profile that ships takes the layout's label",
  () => {
    expect(isBinaryLabel(0o012)).toBe(false);
    expect(shippedLabels()).not.toContain(0o012);
  },
);
check("D-24", "labels stand with their bits reversed", () => {
  for (const { run } of stages) {
    for (const [label, reversed] of [
      [0x6a, 0x56],
      [0o203, 0xc1],
      [0o205, 0xa1],
      [0o377, 0xff],
      [0o001, 0x80],
    ] as const) {
      expect(run.labelReversed(label)).toBe(reversed);
      expect(run.labelReversed(reversed)).toBe(label);
    }
  }
});
check("D-25", "every word has an odd number of ones, as 00000001 has", () => {
  expect([0, 0xf03ccccc, 1].map((word) => onesOf(word) % 2)).toEqual([0, 0, 1]);
  for (let counts = -1024; counts < 1024; counts += 3) {
    for (const validity of [VALID, NO_COMPUTED_DATA, FAILURE, FUNCTIONAL_TEST]) {
      for (const word of compose(0o346, 10, counts, validity)) expect(onesOf(word) % 2).toBe(1);
    }
  }
});
check("D-26", "2.5, 4.0, 3.9 and −1.0 of range 8", () => {
  for (const [counts, word] of [
    [320, 0x65000067],
    [512, 0xe8000067],
    [499, 0xe7cc0067],
    [-128, 0x7e000067],
  ] as const) {
    expect(compose(0o346, 10, counts)).toEqual(both(word));
  }
  // The number shown, in tenths, becomes the same counts.
  for (const { run } of stages) {
    expect([25, 40, 39].map((shown) => run.wordCounts(shown, 10, 128, 10))).toEqual([
      320, 512, 499,
    ]);
  }
});
check("D-27", "4.0 with no computed data, and with a failure warning", () => {
  expect(compose(0o346, 10, 512, NO_COMPUTED_DATA)).toEqual(both(0x28000067));
  expect(compose(0o346, 10, 512, FAILURE)).toEqual(both(0x88000067));
});
check("D-28", "4.0 of range 10.24", () => {
  expect(compose(0o135, 10, 400)).toEqual(both(0xe64000ba));
});
check("D-29", "25 000 and −1000 of range 131 072", () => {
  expect(compose(0o203, 17, 25_000)).toEqual(both(0x630d40c1));
  expect(compose(0o203, 17, -1000)).toEqual(both(0x7fe0c0c1));
});
check("D-30", "−135° has the 13 bits of 225°, 1400 hex", () => {
  const bits = compose(0, 12, -135 * (4096 / 180)).map((word) => (word >>> 16) & 0x1fff);
  expect(bits).toEqual(both(0x1400));
  expect((225 * 4096) / 180).toBe(0x1400);
});
check("D-31", "limits: −4 to 3.75 where the step is 0.25", () => {
  const value = (counts: number): number[] =>
    compose(0, 4, counts).map((word) => {
      const data = (word >>> 24) & 15;
      return (((word >>> 28) & 1) === 1 ? data - 16 : data) * 0.25;
    });
  expect(value(1000)).toEqual([3.75, 3.75]);
  expect(value(-1000)).toEqual([-4, -4]);
});

const configureWord = ({ run, view }: Stage): void =>
  writeFields(view, run.addressDisplay(), [
    [L.DISPLAY_STEP_INVERSE, "f32", 10],
    [L.DISPLAY_WORD_LABEL, "u32", 0o346],
    [L.DISPLAY_WORD_SDI, "u32", 0],
    [L.DISPLAY_WORD_BITS, "u32", 10],
    [L.DISPLAY_WORD_INVERSE, "f32", 128],
  ]);

check("P-04", "the word of 3.9 reads 3.8984375, of 4.0 exactly 4.0, and of nothing below", () => {
  for (const stage of stages) {
    configureWord(stage);
    const read = (shown: number): number =>
      ((stage.run.stageWord(shown, VALID) >>> 18) & 0x3ff) / 128;
    expect(read(39)).toBe(3.8984375);
    expect(read(40)).toBe(4);
    for (let shown = 0; shown < 40; shown += 1) expect(read(shown)).toBeLessThan(4);
  }
});

/** Rms of what the converter adds to a slow ramp over whole steps, in the unit of `step`. */
function converterNoise(step: number, kind: "i16" | "counts-as-f32"): number {
  // Points even in a step: their error's square is step²/12·(1 − 1/points²) exactly.
  const points = 1000;
  const count = points * 64;
  const { out } = sampleKernel();
  let sum = 0;
  for (let first = 0; first < count; first += out.length) {
    const from = out.map((_, i) => ((first + i + 0.5) / points - 32) * step);
    out.set(from);
    const given = convertChunk(kind, step);
    for (const [i, value] of from.entries()) {
      sum += ((kind === "i16" ? given[i]! * step : given[i]!) - value) ** 2;
    }
  }
  return Math.sqrt(sum / count);
}
/** The ramp's points, and f32 in counts × step: 32·2^-24 of a step. */
const NOISE_SHARE = 1e-6 + 32 * 2 ** -24 * 4;

check("D-33", "noise of a full-scale sine at 8 to 16 bits", () => {
  for (const [bits, dB] of [
    [8, 49.9257],
    [10, 61.9669],
    [12, 74.0081],
    [14, 86.0493],
    [16, 98.0905],
  ] as const) {
    const step = 2 / 2 ** bits;
    const noise = converterNoise(step, "i16");
    const found = 20 * Math.log10(Math.SQRT1_2 / noise);
    expect(Math.abs(found - dB)).toBeLessThanOrEqual(5e-5 + 8.7 * NOISE_SHARE);
  }
});
check("D-34", "12 bits at 3.3 V: steps of 0.8057 mV, noise of 0.2326 mV", () => {
  const step = 3.3 / 4096;
  near(step * 1e3, 0.8056640625, 1e-12);
  for (const kind of ["i16", "counts-as-f32"] as const) {
    near(converterNoise(step, kind) * 1e3, 0.232575168, NOISE_SHARE + 1e-9);
  }
});
check("D-35", "against full scale ±1 the noise is 4.771212547 + 6.0206 dB a bit below", () => {
  for (const bits of [8, 12, 16]) {
    const below = -20 * Math.log10(converterNoise(2 / 2 ** bits, "i16"));
    const found = below - 20 * bits * Math.log10(2);
    expect(Math.abs(found - 4.771212547)).toBeLessThanOrEqual(8.7 * NOISE_SHARE);
  }
});

/** Bits of a real number as the configuration carries it. */
function bitsOf(value: number): number {
  const bytes = configurationBytes(
    monitorProfile({ channels: [channelProfile({ countStep: value })] }),
  );
  const at = L.CONFIG_CHANNELS + L.CHANNEL_COUNT_STEP;
  return new DataView(bytes.buffer).getUint32(at, true);
}

check("D-36", "special values in f32", () => {
  const rows: [value: number, bits: number][] = [
    [1, 0x3f800000],
    [0.75, 0x3f400000],
    [1.17549435e-38, 0x00800000],
    [1.40129846e-45, 0x00000001],
    [3.40282347e38, 0x7f7fffff],
    [Infinity, 0x7f800000],
    [NaN, 0x7fc00000],
    [-0, 0x80000000],
    [1 + 2 ** -23, 0x3f800001],
  ];
  for (const [value, bits] of rows) expect(bitsOf(value).toString(16)).toBe(bits.toString(16));
});
check("D-37", "common values in f32", () => {
  const rows: [value: number, bits: number][] = [
    [0.1, 0x3dcccccd],
    [4, 0x40800000],
    [9.80665, 0x411ce80a],
    [16_777_217, 0x4b800000],
  ];
  for (const [value, bits] of rows) expect(bitsOf(value).toString(16)).toBe(bits.toString(16));
  expect(isWithin(Math.fround(9.80665), 9.806650161743164, 1e-15)).toBe(true);
});

check("D-38", "common values in f64, read from a recording", async () => {
  const patterns = ["3FB999999999999A", "40239D013A92A305", "3FD5555555555555"];
  const bytes = Buffer.alloc(44 + 8 * patterns.length);
  bytes.write("RIFF", 0, "latin1");
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write("WAVEfmt ", 8, "latin1");
  for (const [at, value] of [
    [16, 16],
    [24, 1000],
    [28, 8000],
    [40, 8 * patterns.length],
  ] as const) {
    bytes.writeUInt32LE(value, at);
  }
  // Float, one channel, 8 bytes a frame, 64 bits.
  for (const [at, value] of [
    [20, 3],
    [22, 1],
    [32, 8],
    [34, 64],
  ] as const) {
    bytes.writeUInt16LE(value, at);
  }
  bytes.write("data", 36, "latin1");
  patterns.forEach((pattern, i) => {
    bytes.writeBigUInt64LE(BigInt(`0x${pattern}`), 44 + 8 * i);
  });
  const folder = mkdtempSync(join(tmpdir(), "published-"));
  try {
    writeFileSync(join(folder, "f64.wav"), bytes);
    const found: number[] = [];
    for await (const run of openWav(join(folder, "f64.wav")).runs()) found.push(...run[0]!);
    expect(found).toEqual([0.1, 9.80665, 1 / 3].map(Math.fround));
  } finally {
    rmSync(folder, { recursive: true });
  }
});
