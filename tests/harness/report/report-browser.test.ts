// The report in a real browser: its policy holds, its script runs, nothing is fetched.
import { execFile } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { type Server, createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { promisify } from "node:util";
import { parseHTML } from "linkedom";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { pageHead, pageTail } from "../../../harness/report/report-page.ts";
import { type MeasureView, measurePage } from "../../../harness/report/measure-page.ts";
import { replayPage, type ReplayView } from "../../../harness/report/replay-page.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { pdfPages } from "../../kit/pdf-text.ts";
import { sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleSection, wrongCase } from "../../kit/sample-run.ts";
import { systemCommand } from "../../kit/system-package.ts";

const chromium = systemCommand("chromium", "chromium");
const run = promisify(execFile);

let folder = "";
let server: Server;
let asked: string[] = [];

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline-report-"));
  server = createServer((request, response) => {
    asked.push(request.url ?? "");
    response.end();
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
});
afterAll(() => {
  server.close();
  rmSync(folder, { recursive: true, force: true });
});

/** A replay's report of one level without a profile. */
function sampleReplay(): ReplayView {
  const time = [0, 1, 2];
  const level = { name: "order 1", unit: "g pk", facts: [], time, level: [1, 2, 3] };
  return {
    title: "Replay of a.wav",
    doubts: [],
    notes: ["The speed was stated."],
    facts: [["Samples", "3"]],
    timeName: "time, s",
    speedName: "r/min",
    timeStart: 0,
    timeEnd: 2,
    isPhaseRelative: false,
    filters: [{ ...level, speed: [1200, 1200, 1200], phaseLagDeg: [350, 20, 40] }],
    tables: [],
    repeat: "npx amberline replay a.wav",
  };
}

/** A measurement with a curve whose name and key are long. */
function sampleMeasurement(): MeasureView {
  const points = [-3, -1, 0, 1, 3].map((x) => ({ x, y: -x * x }));
  const curve = {
    title: "Response against frequency offset",
    x: "offset from the order, Hz",
    y: "gain against that of the order itself, in decibels of the amplitude",
    measured: points,
    closed: points,
  };
  return {
    title: "Characteristics of a fan",
    facts: [["Profile", "a/very/long/path/to/a/profile/of/somebody/fan.monitor.yaml"]],
    measurements: [{ name: "Response", how: "Tones beside the order.", rows: [], curve }],
    repeat: "amberline measure",
  };
}

const FLAGS =
  "--headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking " +
  "--disable-component-update --disable-sync --virtual-time-budget=2000";

/** Opens a page in the browser and gives what it writes. */
async function browse(html: string, ...more: string[]): Promise<string> {
  asked = [];
  const path = join(folder, "report page.html");
  writeFileSync(path, html);
  const profile = `--user-data-dir=${join(folder, "profile")}`;
  const args = [...FLAGS.split(" "), profile, ...more, pathToFileURL(path).href];
  const { stdout } = await run(chromium!, args, { maxBuffer: 64 * 1024 * 1024 });
  return stdout;
}

/** The page's elements after its scripts have run. */
async function openPage(
  html: string,
  ...more: string[]
): Promise<ReturnType<typeof parseHTML>["document"]> {
  return parseHTML(await browse(html, "--dump-dom", ...more)).document;
}

/** What stands on each sheet when the page is printed. */
async function printPage(html: string): Promise<string[]> {
  const path = join(folder, "printed.pdf");
  await browse(html, `--print-to-pdf=${path}`, "--no-pdf-header-footer");
  return pdfPages(readFileSync(path));
}

/** A report that is right as it stands. */
function soundPage(): string {
  const cases = [sampleCase(), wrongCase("why")];
  const summary = summaryOf(cases.map(summaryRow), [], sampleRun());
  return pageHead("Run", summary) + cases.map(sampleSection).join("") + pageTail();
}

/** The page with a script of the test's own at its end. */
function driven(html: string, script: string): string {
  return html
    .replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, "")
    .replace("</body>", `<script>${script}</script></body>`);
}

/** A report into which markup has come unescaped, as if the escaping had a hole. */
function holedPage(): string {
  const port = (server.address() as AddressInfo).port;
  const hole =
    `<script>document.body.dataset.broken = "script"</script>` +
    `<img src="x:" onerror="document.body.dataset.broken = 'handler'">` +
    `<img src="http://127.0.0.1:${port}/image">` +
    `<link rel="stylesheet" href="http://127.0.0.1:${port}/style">` +
    `<iframe src="http://127.0.0.1:${port}/frame"></iframe>`;
  const cases = [sampleCase(), wrongCase("why")];
  const summary = summaryOf(cases.map(summaryRow), [], sampleRun());
  return pageHead("Run", summary) + cases.map(sampleSection).join("") + hole + pageTail();
}

describe.skipIf(chromium === undefined)("report in a browser", () => {
  it("[REP-030] its policy stops scripts, handlers and every fetch, and lets its own script run", async () => {
    const document = await openPage(holedPage());
    expect(document.body.getAttribute("data-broken")).toBeNull();
    expect(asked).toEqual([]);
    expect(document.documentElement.getAttribute("class")).toBe("scripted");
    expect(document.querySelectorAll("#summary th button")).toHaveLength(6);
    expect(document.getElementById("filter-count")?.textContent).toBe("2 of 2 shown");
  });

  it("[REP-031] the same page without its policy is broken: the test above can fail", async () => {
    const html = holedPage().replace(/<meta http-equiv="Content-Security-Policy"[^>]*>/, "");
    const document = await openPage(html);
    expect(document.body.getAttribute("data-broken")).not.toBeNull();
    expect(asked).toContain("/image");
  });

  it("[REP-032] sorts by a column and hides what the filter leaves out, rows and cases", async () => {
    const drive =
      `document.querySelectorAll("#summary th button")[4].click();` +
      `document.querySelectorAll("#summary th button")[4].click();` +
      `document.body.dataset.order = document.querySelector("#summary tbody a").textContent;` +
      `var pick = document.getElementById("filter-verdict"); pick.value = "right";` +
      `pick.dispatchEvent(new Event("change"));`;
    const document = await openPage(driven(holedPage(), drive));
    expect(document.body.getAttribute("data-order")).toBe("wrong case");
    const shown = [...document.querySelectorAll("section.case:not([hidden]) h2")];
    expect(shown.map((one) => one.textContent)).toEqual(["a blade binds at start"]);
    expect(document.getElementById("filter-count")?.textContent).toBe("1 of 2 shown");
  });

  it("[REP-033] sorts from the keyboard: each head is a button that tells how it sorts", async () => {
    // A click is what the browser makes of Enter on a button that has the focus.
    const drive =
      `var seen = []; var list = [];` +
      `document.querySelectorAll(".controls input, .controls select, #summary th button")` +
      `.forEach(function (one) { one.focus(); ` +
      `if (document.activeElement === one && one.tabIndex === 0) seen.push(one.localName); });` +
      `function sorts() { return [].map.call(document.querySelectorAll("#summary th"), ` +
      `function (one) { return one.getAttribute("aria-sort") || "-"; }).join(" "); }` +
      `list.push(sorts());` +
      `var ratio = document.querySelectorAll("#summary th button")[4];` +
      `ratio.focus(); document.activeElement.click(); list.push(sorts());` +
      `document.activeElement.click(); list.push(sorts());` +
      `document.body.dataset.seen = seen.join(" "); document.body.dataset.sorts = list.join(", ");`;
    const document = await openPage(driven(soundPage(), drive));
    const seen = document.body.getAttribute("data-seen");
    expect(seen).toBe("input select button button button button button button");
    expect(document.body.getAttribute("data-sorts")).toBe(
      "ascending - - - - -, - - - - ascending -, - - - - descending -",
    );
    for (const label of document.querySelectorAll(".controls label")) {
      expect(label.querySelector("input, select")).not.toBeNull();
      expect(label.textContent.trim()).not.toBe("");
    }
  });

  it.each([
    ["a report", soundPage],
    ["the report of a replay", () => replayPage(sampleReplay())],
  ])(
    "[REP-034] %s carries the caution sentence on every printed sheet, at its end",
    async (_, of) => {
      const sentence = CAUTION_SENTENCE.replace(/\s/g, "");
      const pages = await printPage(of());
      expect(pages.length).toBeGreaterThan(0);
      expect(pages.filter((text) => !text.includes(sentence))).toEqual([]);
      // Once as the foot of the sheet, once as the end of the document.
      expect(pages.at(-1)!.split(sentence)).toHaveLength(3);
      expect(pages.at(-1)!.endsWith(sentence)).toBe(true);
      const bare = of()
        .replaceAll(/@bottom-left \{[^}]*\}/g, "")
        .replace(/<footer>.*<\/footer>/, "");
      expect((await printPage(bare)).some((text) => text.includes(sentence))).toBe(false);
    },
  );

  it.each([500, 700, 1280])("[REP-035] is no wider than a window of %s", async (width) => {
    const drive =
      `document.body.dataset.wide = document.documentElement.scrollWidth + " " + innerWidth;` +
      `document.body.dataset.lost = [].filter.call(document.querySelectorAll("td"), ` +
      `function (one) { var at = one.getBoundingClientRect(); ` +
      `return at.width > 0 && at.right > innerWidth + 1; }).length;`;
    const document = await openPage(driven(soundPage(), drive), `--window-size=${width},900`);
    const [found, room] = document.body.getAttribute("data-wide")!.split(" ").map(Number);
    expect(room).toBeLessThanOrEqual(width);
    expect(found).toBeLessThanOrEqual(room!);
    expect(document.body.getAttribute("data-lost")).toBe("0");
  });

  it.each([
    [320, "a report", soundPage],
    [400, "a report", soundPage],
    [320, "a replay", () => replayPage(sampleReplay())],
    [400, "a replay", () => replayPage(sampleReplay())],
    [320, "a measurement", () => measurePage(sampleMeasurement())],
    [400, "a measurement", () => measurePage(sampleMeasurement())],
  ])(
    "[REP-037] on a screen of %s %s is whole: no figure is cut, no word too small",
    async (width, _, of) => {
      // A window of the browser is no narrower than 500: the page stands in a frame.
      const drive =
        `function seen(one) { return one.getClientRects().length > 0; }` +
        `var wide = innerWidth; var found = [document.documentElement.scrollWidth <= wide];` +
        `var texts = [].filter.call(document.querySelectorAll("svg.figure text"), seen);` +
        `var cut = texts.filter(function (one) { var at = one.getBoundingClientRect();` +
        `return at.left < -1 || at.right > wide + 1; });` +
        `var small = texts.filter(function (one) {` +
        `var svg = one.ownerSVGElement; var scale = svg.getBoundingClientRect().width /` +
        `svg.viewBox.baseVal.width; return parseFloat(getComputedStyle(one).fontSize) * scale < 8.5; });` +
        `var heads = texts.filter(function (one) { return /head|key/.test(one.getAttribute("class")); })` +
        `.map(function (one) { return one.getBoundingClientRect(); });` +
        `var over = heads.filter(function (a) { return heads.some(function (b) {` +
        `return a !== b && a.left < b.right - 1 && b.left < a.right - 1 && ` +
        `a.top < b.bottom - 4 && b.top < a.bottom - 4; }); });` +
        `parent.document.body.dataset.found = ` +
        `[wide, found[0], texts.length, cut.length, small.length, over.length].join(" ");`;
      const framed = driven(of(), drive).replaceAll("&", "&amp;").replaceAll('"', "&quot;");
      const html = `<body><iframe width="${width}" height="900" srcdoc="${framed}"></iframe></body>`;
      const document = await openPage(`<!doctype html>${html}`);
      const [wide, fits, textCount, ...wrong] = document.body
        .getAttribute("data-found")!
        .split(" ");
      expect([wide, fits, wrong]).toEqual([String(width), "true", ["0", "0", "0"]]);
      expect(Number(textCount)).toBeGreaterThan(5);
    },
  );
});
