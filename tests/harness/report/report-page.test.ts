import { parseHTML } from "linkedom";
import { describe, expect, it } from "vitest";
import { drawCaseSection } from "../../../harness/report/case-section.ts";
import { quantityText } from "../../../harness/report/html-text.ts";
import { pageHead, pageTail } from "../../../harness/report/report-page.ts";
import { TERMS_RULE, TERM_MEANINGS } from "../../../harness/report/term-meanings.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import { RESULTS_VERSION, type CaseResult } from "../../../harness/results/types.ts";
import { LEVEL_TERM_NAMES, RANDOM_NAMES, TERM_NAMES } from "../../../harness/truth/error-bounds.ts";
import { CAUTION_SENTENCE } from "../../../host/caution-sentence.ts";
import { SAMPLE_REPEAT, sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleSection, wrongCase } from "../../kit/sample-run.ts";

/** Breaks out of content, attribute, comment, title, style and script, where nothing escapes it. */
const HOSTILE = `"'><img src=x onerror=alert(1)><script>alert(1)</script></title></style><!--&lt;`;

function hostileCase(): CaseResult {
  const result = wrongCase(HOSTILE);
  const { verdict } = result;
  Object.assign(result, { name: HOSTILE, question: HOSTILE, profileName: HOSTILE });
  result.requirements = [HOSTILE];
  result.played = [{ of: HOSTILE, what: HOSTILE, value: HOSTILE }];
  const set = { number: HOSTILE, tracks: HOSTILE, display: HOSTILE, caution: HOSTILE };
  result.settings = [set];
  for (const one of verdict.checks) Object.assign(one, { why: HOSTILE, unit: HOSTILE });
  for (const one of verdict.filters) {
    Object.assign(one, { name: HOSTILE, unit: HOSTILE });
    for (const term of one.nearest!.terms) term.name = HOSTILE as typeof term.name;
  }
  for (const one of verdict.events) {
    Object.assign(one, { name: HOSTILE, of: HOSTILE, detailText: HOSTILE });
  }
  return result;
}

function page(cases: CaseResult[]): string {
  const failure = { name: HOSTILE, kind: "target" as const, message: HOSTILE };
  const summary = summaryOf(cases.map(summaryRow), [failure], sampleRun());
  return pageHead("Run", summary) + cases.map(sampleSection).join("") + pageTail();
}

/** Cells of a table's body, as text. */
function cellsOf(document: Document, selector: string): string[][] {
  return [...document.querySelectorAll(`${selector} tbody tr`)].map((row) =>
    [...row.querySelectorAll("td")].map((cell) => cell.textContent.replaceAll("\u{a0}", " ")),
  );
}

describe("report", () => {
  it("[REP-010] shows text from files as text, wherever it stands", () => {
    const { document } = parseHTML(
      page([hostileCase()]) + drawCaseSection({ ...hostileCase(), id: "2" }, HOSTILE),
    );
    expect(document.querySelectorAll("script")).toHaveLength(1);
    expect(document.querySelectorAll("img")).toHaveLength(0);
    expect(document.querySelectorAll("title")).toHaveLength(5); // the page's, and two figures' on either sheet
    for (const selector of [
      "h2",
      ".question",
      ".repeat code",
      "h3",
      "figcaption h3",
      "li strong",
      ".wrong-list a",
      ".played td",
      ".settings td",
      ".terms td",
      ".checks td",
    ]) {
      const found = [...document.querySelectorAll(selector)].map((one) => one.textContent);
      expect(found).toContain(HOSTILE);
    }
  });

  it("[REP-011] names nothing to load from anywhere", () => {
    const html = page([sampleCase(), wrongCase("why")]);
    const { document } = parseHTML(html);
    const loading = "link,iframe,object,embed,video,audio,source,base,image,use,[src],[srcset]";
    expect(document.querySelectorAll(loading)).toHaveLength(0);
    expect(html).not.toMatch(/https?:|@import|url\((?!#)/);
    const links = [...document.querySelectorAll("[href]")].map((one) => one.getAttribute("href"));
    expect(links.every((href) => href === "#top" || href?.startsWith("#case-"))).toBe(true);
    expect(document.getElementById("top")?.localName).toBe("body");
  });

  it("[REP-012] links each row of the summary to its case", () => {
    const { document } = parseHTML(page([sampleCase(), wrongCase("why")]));
    const links = [...document.querySelectorAll("#summary a")];
    expect(links).toHaveLength(2);
    for (const link of links) {
      const id = link.getAttribute("href")!.slice(1);
      expect(document.getElementById(id)?.querySelector("h2")?.textContent).toBe(link.textContent);
    }
  });

  it("[REP-013] tells right from wrong in words, in the summary, the case and each check", () => {
    const { document } = parseHTML(page([sampleCase(), wrongCase("off by two tolerances")]));
    const words = [...document.querySelectorAll("#summary .verdict")].map((one) => one.textContent);
    expect(words).toEqual(["✓ right", "✗ WRONG"]);
    const wrong = document.querySelectorAll(".case")[1]!;
    expect(wrong.querySelector("header .verdict")?.textContent).toBe("✗ WRONG");
    expect(wrong.querySelectorAll("tbody .verdict.wrong")).toHaveLength(1);
    expect(document.querySelector(".lead")?.textContent).toContain("1 of 2 verdicts wrong");
  });

  it("[REP-023] says of an interrupted run that cases are missing, never that all was right", () => {
    const summary = summaryOf([summaryRow(sampleCase())], [], sampleRun(3));
    const { document } = parseHTML(pageHead("Run", summary) + pageTail());
    const lead = document.querySelector(".lead")?.textContent;
    expect(lead).toBe("Interrupted: 1 of 3 cases ended.");
    const whole = summaryOf([summaryRow(sampleCase())], [], sampleRun(1));
    expect(pageHead("Run", whole)).toContain("Every number and every caution was right.");
  });

  it("[REP-014] shows what was asked, seed, versions and the command that repeats a case", () => {
    const { document } = parseHTML(page([sampleCase()]));
    const section = document.querySelector(".case")!;
    expect(section.querySelector(".question")?.textContent).toBe(sampleCase().question);
    expect(section.querySelector(".repeat code")?.textContent).toBe(SAMPLE_REPEAT);
    const head = document.querySelector("body > header")!.textContent;
    for (const word of ["fedcba9876543210", "0.1.0", "Seed1", `Results${RESULTS_VERSION}`]) {
      expect(head).toContain(word);
    }
  });

  it("[REP-015] draws the amber region from the caution level to the top, and its word", () => {
    const { document } = parseHTML(page([sampleCase()]));
    const region = document.querySelector(".amber-region")!;
    const level = document.querySelector(".caution-line")!;
    expect(Number(region.getAttribute("y")) + Number(region.getAttribute("height"))).toBeCloseTo(
      Number(level.getAttribute("y1")),
      0,
    );
    for (const sheet of [".wide-figure", ".narrow-figure"]) {
      const found = document.querySelectorAll(`${sheet} .caution-word`);
      const words = [...found].map((one) => one.textContent);
      expect(words).toEqual(["caution from 5.0 up", "ends below 4.6"]);
    }
  });

  it("[REP-024] writes the caution level's word where the number does not cross it", () => {
    const wordX = (change: (timeS: number) => number): number => {
      const result = sampleCase();
      const { trace } = result.verdict.filters[0]!;
      trace.shown = trace.timeS.map(change);
      const { document } = parseHTML(sampleSection(result));
      return Number(document.querySelector(".caution-word")!.getAttribute("x"));
    };
    expect(wordX(() => 1)).toBe(978);
    // 80 s over 892 units: at 60 s x = 761. A curve through the word from there on moves it left.
    const moved = wordX((timeS) => (timeS > 60 ? 5.4 : 1));
    expect(moved).toBeLessThan(761);
    expect(moved).toBeGreaterThan(700);
    // A step from far below to far above crosses it as well, with no point inside.
    expect(wordX((timeS) => (timeS > 75 ? 9 : 1))).toBeLessThan(928);
    expect(wordX(() => 5.4)).toBe(978);
  });

  it("[REP-016] draws no amber and no caution strip where no caution is configured", () => {
    const result = sampleCase();
    delete result.verdict.filters[0]!.cautionLevel;
    const { document } = parseHTML(sampleSection(result));
    expect(document.querySelectorAll(".amber-region, .amber, .either")).toHaveLength(0);
    const heads = [...document.querySelectorAll(".head")].map((one) => one.textContent);
    expect(heads).not.toContain("Caution");
  });

  it("[REP-017] gives every state of a caution and of validity a hatching of its own", () => {
    const { document } = parseHTML(page([sampleCase()]));
    const key = [...document.querySelectorAll(".key")].map((one) => one.textContent);
    expect(key).toEqual(
      expect.arrayContaining(["either", "timing on", "held", "timing off", "failure"]),
    );
    const used = [...document.querySelectorAll("rect.box")].map((one) => one.getAttribute("fill")!);
    const ids = new Set(used.map((fill) => /^url\(#(.+)\)$/.exec(fill)![1]!));
    expect(ids.size).toBe(7);
    for (const id of ids) expect(document.getElementById(id)?.localName).toBe("pattern");
  });

  it("[REP-018] tells each figure in words, under ids that occur once", () => {
    const { document } = parseHTML(page([sampleCase(), wrongCase("why")]));
    for (const figure of document.querySelectorAll("svg[role=img]")) {
      for (const id of figure.getAttribute("aria-labelledby")!.split(" ")) {
        expect(document.getElementById(id)?.textContent).not.toBe("");
      }
      expect(figure.querySelector("desc")?.textContent).toContain(
        "Caution, found: off 0.1 to 30.4",
      );
    }
    const ids = [...document.querySelectorAll("[id]")].map((one) => one.id);
    expect(new Set(ids).size).toBe(ids.length);
    for (const table of document.querySelectorAll("table")) {
      expect(table.querySelector("caption")).not.toBeNull();
    }
  });

  it("[REP-019] ends with the caution sentence, which is printed, too", () => {
    const { document } = parseHTML(page([sampleCase()]));
    expect(document.querySelector("footer")?.textContent).toBe(CAUTION_SENTENCE);
    expect(document.querySelector("body > :nth-last-child(2)")?.localName).toBe("footer");
  });

  it("[REP-020] never says that something is harmless or that one may go on", () => {
    const words = parseHTML(page([sampleCase(), wrongCase("why")])).document.body.textContent;
    expect(words).not.toMatch(/\b(benign|safe|safely|continue)\b/i);
  });

  it("[REP-025] says what every term of a tolerance means, and how they combine", () => {
    const names = [...TERM_NAMES, ...RANDOM_NAMES, ...LEVEL_TERM_NAMES];
    expect(Object.keys(TERM_MEANINGS).toSorted()).toEqual([...names].toSorted());
    for (const meaning of Object.values(TERM_MEANINGS))
      expect(meaning).toMatch(/^[A-Z].{20,90}\.$/);
    expect(new Set(Object.values(TERM_MEANINGS)).size).toBe(names.length);
    for (const random of RANDOM_NAMES) expect(TERMS_RULE).toContain(random);
  });

  it("[REP-026] tells the terms at the step nearest to its limit, with their sum", () => {
    const { document } = parseHTML(page([sampleCase()]));
    const terms = document.querySelector(".terms")!;
    const rows = cellsOf(document, ".terms");
    expect(rows.map(([name, size]) => [name, size])).toEqual([
      ["white noise", "0.0121"],
      ["wheel error", "0.0094"],
      ["edge clock", "0.0011"],
      ["tolerance", "0.0226"],
    ]);
    expect(rows[1]![3]).toBe(TERM_MEANINGS["wheel error"]);
    const note = terms.querySelector(".note")!.textContent;
    const caption = terms.querySelector("caption")!.textContent;
    expect(caption).toBe("What the tolerance is made of at step 1225, 61.25 s (in/s pk)");
    expect(note).toContain("0.01853 off, 0.82 of the tolerance");
    expect(note).toContain(TERMS_RULE);
  });

  it.each([
    ["caution 16.5 to 37.5 s, 57 s to the end", "caution 16.5 to 37.5_s, 57_s to the end"],
    ["3 mil pk-pk at 4800 r/min, 5 %", "3_mil_pk-pk at 4800_r/min, 5_%"],
    ["700 g mm from 0 s; 2 g pk", "700_g mm from 0_s; 2_g_pk"],
    ["number 3.2 throughout", "number 3.2 throughout"],
  ])("[REP-036] keeps a number with its unit: %s", (text, joined) => {
    expect(quantityText(text).replaceAll("\u{a0}", "_")).toBe(joined);
  });

  it("[REP-027] shows what was played, and how number and caution are set", () => {
    const { document } = parseHTML(page([sampleCase()]));
    expect(cellsOf(document, ".played")).toEqual([
      ["shaft N1", "speed", "1200 r/min, to 5400 r/min at 46 s, held"],
      ["channel front", "noise", "white, 0.04 g rms"],
    ]);
    const [set] = sampleCase().settings;
    expect(cellsOf(document, ".settings")).toEqual([Object.values(set!)]);
  });

  it("[REP-028] links to the wrong cases at its head, where there are any", () => {
    const { document } = parseHTML(page([sampleCase(), wrongCase("why")]));
    const links = [...document.querySelectorAll(".wrong-list a")];
    expect(links.map((one) => one.textContent)).toEqual(["wrong case"]);
    expect(links[0]!.getAttribute("href")).toBe(`#case-${wrongCase("").id}`);
    expect(parseHTML(page([sampleCase()])).document.querySelector(".wrong-list")).toBeNull();
  });

  it("[REP-029] counts in samples where the profile knows no sample rate", () => {
    const { document } = parseHTML(
      page([sampleCase({ timeUnit: "sample", played: [], settings: [] })]),
    );
    const words = document.querySelector(".case")!.textContent;
    for (const one of ["80 samples", "Speed, rev/sample", "time, samples", "At, samples"]) {
      expect(words).toContain(one);
    }
    expect(words).not.toMatch(/r\/min|\d s\b|, s\b|Hz/);
  });

  it("[REP-021] is the same bytes whenever it is drawn", () => {
    expect(page([sampleCase()])).toBe(page([sampleCase()]));
  });

  it("[REP-022] cuts long lists of events and says how many are left", () => {
    const result = sampleCase();
    const [event] = result.verdict.events;
    result.verdict.events = Array.from({ length: 1000 }, (_, i) => ({ ...event!, timeS: i }));
    const html = sampleSection(result);
    expect(html).toContain("and 940 more; the case's JSON file has all.");
  });
});

describe("what a scenario states of a caution", () => {
  it("[REP-038] is drawn beside what was expected and found, in words, windows that overlap apart", () => {
    const result = sampleCase();
    result.verdict.filters[0]!.statedCaution = [
      { isOn: true, fromS: 10, untilS: 30 },
      { isOn: false, fromS: 20, untilS: 1e6 },
    ];
    const { document } = parseHTML(drawCaseSection(result, SAMPLE_REPEAT));
    const figure = document.querySelector("svg.figure")!;
    const names = [...figure.querySelectorAll("text.tick")].map((one) => one.textContent);
    expect(names.filter((name) => name === "stated")).toHaveLength(2);
    const told = figure.querySelector("desc")!.textContent;
    expect(told).toContain("Caution, stated: on within 10.0 to 30.0 s");
    // A window that goes on after the end is drawn to it.
    expect(told).toContain(`off within 20.0 to ${result.durationS.toFixed(1)} s`);
    expect(drawCaseSection(sampleCase(), SAMPLE_REPEAT)).not.toContain(">stated<");
  });
});
