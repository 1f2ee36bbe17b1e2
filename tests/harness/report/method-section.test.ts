// The pictures of the second opinions. Colours are held against OKLab (B. Ottosson, 2020) by the
// way back from sRGB (IEC 61966-2-1), the PNG against Node's own inflate and CRC.
import { createHash } from "node:crypto";
import { inflateSync } from "node:zlib";
import { parseHTML } from "linkedom";
import { describe, expect, it } from "vitest";
import type { MethodResults, Opinion } from "../../../harness/method/opinion-types.ts";
import { fromOklab, hexOf, scaleColour } from "../../../harness/report/colour-scale.ts";
import { indexedPng } from "../../../harness/report/indexed-png.ts";
import { methodSection } from "../../../harness/report/method-section.ts";
import { timeWords } from "../../../harness/report/time-words.ts";
import { methodNote } from "../../../harness/results/method-note.ts";

/** Lightness of OKLab, from sRGB bytes. */
function lightness(colour: readonly number[]): number {
  const [r, g, b] = colour.map((byte) => {
    const value = byte / 255;
    return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b);
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b);
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b);
  return 0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s;
}

describe("colour scale", () => {
  it("[REP-070] grows evenly darker to the eye", () => {
    const places = Array.from({ length: 33 }, (_, i) => i / 32);
    const steps = places.map((place) => lightness(scaleColour(place)));
    for (const [i, one] of steps.entries()) {
      // A byte of sRGB is half a hundredth of lightness at the dark end.
      expect(Math.abs(one - (0.965 + (i / 32) * (0.24 - 0.965)))).toBeLessThan(0.006);
    }
  });

  it("[REP-071] holds no amber, and no colour is cut off by what a screen shows", () => {
    for (let place = 0; place <= 1; place += 1 / 64) {
      const [red, , blue] = scaleColour(place);
      expect(blue).toBeGreaterThanOrEqual(red - 2);
    }
    expect(hexOf(fromOklab(1, 0, 0))).toBe("#ffffff");
    expect(hexOf(fromOklab(0, 0, 0))).toBe("#000000");
    // Red of sRGB in OKLab (Ottosson's table, from memory: 0.62796, 0.22486, 0.12585).
    expect(hexOf(fromOklab(0.62796, 0.22486, 0.12585))).toBe("#ff0000");
  });
});

describe("PNG", () => {
  it("[REP-072] is read back by another inflate, row by row", () => {
    const [width, height] = [300, 260];
    const indexAt = (x: number, y: number): number => (x * 7 + y * 3) % 5;
    const palette = Array.from({ length: 5 }, (_, i) => [i, 2 * i, 3 * i] as const);
    const png = indexedPng(width, height, palette, indexAt);
    expect([...png.subarray(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
    const chunks = new Map<string, Buffer>();
    for (let at = 8; at < png.length;) {
      const length = png.readUInt32BE(at);
      const type = png.toString("latin1", at + 4, at + 8);
      chunks.set(type, png.subarray(at + 8, at + 8 + length));
      at += 12 + length;
    }
    expect([...chunks.keys()]).toEqual(["IHDR", "PLTE", "tRNS", "IDAT", "IEND"]);
    // The check of an empty IEND is a known constant of the standard: AE 42 60 82.
    expect([...png.subarray(-4)]).toEqual([0xae, 0x42, 0x60, 0x82]);
    const rows = inflateSync(chunks.get("IDAT")!);
    expect(rows.length).toBe(height * (width + 1));
    for (let y = 0; y < height; y += 13) {
      expect(rows[y * (width + 1)]).toBe(0);
      for (let x = 0; x < width; x += 11) {
        expect(rows[y * (width + 1) + 1 + x]).toBe(indexAt(x, y));
      }
    }
    const again = indexedPng(width, height, palette, indexAt);
    const digest = (bytes: Buffer): string => createHash("sha256").update(bytes).digest("hex");
    expect(digest(again)).toBe(digest(png));
  });
});

function opinion(method: Opinion["method"], verdict: Opinion["verdict"]): Opinion {
  const isApplied = verdict !== "does not apply";
  return {
    method,
    settings: "14 revolutions (0.18 s)",
    verdict,
    stepCount: 4,
    comparedCount: isApplied ? 3 : 0,
    differingCount: verdict === "differs" ? 3 : 0,
    ...(isApplied
      ? {
          worst: {
            timeS: 2,
            ratio: verdict === "differs" ? 3.5 : 0.25,
            difference: 0.001,
            bound: 0.004,
            levelDifference: -0.0007,
            phaseDifferenceDeg: 0.03,
            terms: [{ name: "window", value: 0.004 }],
          },
        }
      : {}),
    notCompared: [{ why: "fast <passage>", stepCount: 1, fromS: 3, untilS: 3 }],
    curve: {
      timeS: [0, 1, 2, 3],
      level: [1, 1.1, 1.2, -1],
      phaseLagDeg: [10, 11, 12, -1],
      laggedLevel: [1, 1.1, 1.2, -1],
      difference: [0.001, 0.001, 0.001, -1],
      bound: [0.004, 0.004, 0.004, -1],
    },
  };
}

function results(): MethodResults {
  const cells = Buffer.alloc(4 * 6);
  cells[2 * 6 + 1] = 255;
  return {
    notes: ["2 samples of <frame> were no numbers."],
    filters: [
      {
        filter: 0,
        name: "fan <1>",
        unit: "in/s pk",
        order: 1,
        isPhaseRelative: false,
        firmware: { timeS: [0, 1, 2, 3], level: [1, 1, 1, 1], phaseLagDeg: [10, 10, 10, 10] },
        opinions: [
          opinion("order tracking", "agrees"),
          opinion("Vold-Kalman", "agrees"),
          opinion("synchronous average", "differs"),
          opinion("windowed spectrum", "does not apply"),
        ],
      },
    ],
    maps: [
      {
        channel: "frame <a>",
        shaft: "N1",
        unit: "mm/s pk",
        axis: "speed",
        low: 3000,
        high: 6000,
        columns: 4,
        frequencyHigh: 300,
        rows: 6,
        greatestPk: 12,
        rangeDb: 60,
        cells: cells.toString("base64"),
        orders: [1],
        speedHz: [56, 69, 81, 94],
      },
    ],
  };
}

describe("section of the second opinions", () => {
  const times = timeWords("s");
  const html = methodSection(results(), { from: 0, until: 3 }, "x", times);
  const { document } = parseHTML(`<html><body>${html}</body></html>`);

  it("[REP-073] tells of each method how it was set, what it says, by how much, and where not", () => {
    const rows = [...document.querySelectorAll(".methods tbody tr")].map((one) => one.textContent!);
    expect(rows.length).toBe(4);
    expect(rows[0]).toMatch(/order tracking14 revolutions.*✓ agrees3 of 4.*0\.25/);
    expect(rows[2]).toMatch(/✗ differs.*3\.50/);
    expect(rows[3]).toMatch(/does not apply0 of 4–.*fast <passage>: 1 step, 3 to 3.s/);
  });

  it("[REP-074] shows text from files as text, and tells every picture in words", () => {
    expect(html).not.toMatch(/<passage>|<frame>|fan <1>|frame <a>/);
    // Each figure is drawn for a wide sheet and for a narrow one.
    const pictures = [...document.querySelectorAll("svg")];
    expect(pictures.length).toBe(4);
    const wide = pictures.filter((one) => one.getAttribute("class")!.includes("wide-figure"));
    const said = wide.map((one) => one.querySelector("desc")!.textContent!);
    expect(said[0]).toContain("synchronous average differs");
    // Row 1 of 6 to 300 Hz is 75 Hz; column 2 of 4 from 3000 to 6000 r/min is 4875; 75/81 is 0.9.
    expect(said[1]).toMatch(/greatest amplitude is 12 mm\/s pk, near order 0\.9 \(75 Hz\)/);
    expect(said[1]).toContain("4875");
    for (const one of pictures) {
      for (const id of one.getAttribute("aria-labelledby")!.split(" ")) {
        expect(document.querySelectorAll(`[id="${id}"]`).length).toBe(1);
      }
    }
  });

  it("[REP-075] draws the line of each order, the tracked one by its name, and both units", () => {
    const words = [...document.querySelectorAll(".wide-figure .order-word")].map(
      (one) => one.textContent,
    );
    expect(words).toEqual(["order 1", "2", "3", "4", "5"]);
    expect(html).toContain("Frequency, Hz");
    expect(html).toContain("speed of N1, r/min");
    expect(html).toContain("amplitude, mm/s pk");
  });

  it("[REP-076] loads nothing: its image is in the page, once for both sheets", () => {
    expect(html.split("data:image/png;base64,").length).toBe(2);
    const [image, ...others] = document.querySelectorAll("image");
    expect(others).toEqual([]);
    expect(image!.getAttribute("href")).toMatch(/^data:image\/png;base64,/);
    expect(image!.closest("svg")!.getAttribute("class")).toContain("wide-figure");
    const use = document.querySelector(".narrow-figure use")!;
    expect(use.getAttribute("href")).toBe(`#${image!.getAttribute("id")}`);
    // Each fills its own sheet's panel.
    const place = /^translate\(([\d.]+) [\d.]+\) scale\(([\d.]+) [\d.]+\)$/;
    for (const [one, width] of [
      [image!, 1000],
      [use, 360],
    ] as const) {
      const [, left, across] = place.exec(one.parentElement!.getAttribute("transform")!)!;
      expect(Number(left) + Number(across)).toBeLessThan(width);
      expect(Number(across)).toBeGreaterThan(0.8 * width);
    }
    expect(methodSection(undefined, { from: 0, until: 3 }, "x", times)).toBe("");
  });

  it("[REP-077] counts in a line how many agree, differ and do not apply", () => {
    expect(methodNote(results())).toBe(
      "second opinions: fan <1> 2 of 4 agree, 1 of 4 DIFFER, 1 of 4 do not apply",
    );
    expect(methodNote({ notes: ["Too long."], filters: [], maps: [] })).toBe(
      "second opinions: none; Too long.",
    );
  });

  it("[REP-078] breaks level, phase and difference where no step had a level", () => {
    const parted = results();
    const [filter] = parted.filters;
    const timeS = [0, 1, 2, 7, 8, 9];
    const same = (value: number): number[] => timeS.map(() => value);
    filter!.firmware = { timeS, level: same(1), phaseLagDeg: same(10) };
    const curve = { timeS, level: same(1), phaseLagDeg: same(11), laggedLevel: same(1) };
    for (const one of filter!.opinions) {
      one.curve = { ...curve, difference: same(0.001), bound: same(0.004) };
    }
    const drawn = methodSection({ ...parted, maps: [] }, { from: 0, until: 9 }, "y", times);
    const sheet = parseHTML(`<html><body>${drawn}</body></html>`).document;
    const lines = [...sheet.querySelectorAll(".wide-figure path")]
      .map((one) => one.getAttribute("d")!)
      .filter((d) => d.includes("L"));
    // Four methods in three panels, the firmware in two.
    expect(lines.length).toBe(14);
    for (const d of lines) expect(d.match(/M/g)).toHaveLength(2);
  });
});
