import { describe, expect, it } from "vitest";
import { junitXml, xmlText } from "../../../harness/results/junit-xml.ts";
import { summaryOf, summaryRow } from "../../../harness/results/summary.ts";
import { SAMPLE_REPEAT, sampleCase } from "../../kit/sample-case.ts";
import { sampleRun, sampleRunCases, wrongCase } from "../../kit/sample-run.ts";
import { readXml } from "../../kit/well-formed-xml.ts";

const HOSTILE = `a<b>&"quoted"' \u0000\u0007 ]]> <!-- \u{1f6e9} \ud800 end`;

describe("junit.xml", () => {
  it("[RES-010] is well formed and keeps every character that XML allows", () => {
    const rows = [summaryRow(sampleCase({ name: HOSTILE })), summaryRow(wrongCase(HOSTILE))];
    const failure = { name: HOSTILE, kind: "target" as const, message: HOSTILE };
    const elements = readXml(junitXml(summaryOf(rows, [failure], sampleRun()), []));
    const shown = `a<b>&"quoted"' \u{fffd}\u{fffd} ]]> <!-- \u{1f6e9} \u{fffd} end`;
    const cases = elements.filter((one) => one.name === "testcase");
    expect(cases.map((one) => one.attributes["name"])).toEqual([shown, "wrong case", shown]);
  });

  it("[RES-011] counts a wrong verdict as failure and a case without one as error", () => {
    const rows = [summaryRow(sampleCase()), summaryRow(wrongCase("off by two tolerances"))];
    const failure = { name: "third", kind: "target" as const, message: "unplugged" };
    const elements = readXml(junitXml(summaryOf(rows, [failure], sampleRun()), []));
    const [, suite] = elements;
    expect(suite?.attributes).toMatchObject({ tests: "3", failures: "1", errors: "1" });
    const failed = elements.find((one) => one.name === "failure");
    expect(failed?.attributes).toMatchObject({ message: "off by two tolerances", type: "level" });
    expect(elements.find((one) => one.name === "error")?.attributes["message"]).toBe("unplugged");
  });

  it("[RES-013] names a case's file and flight time, and how a wrong one is run again", () => {
    const cases = [sampleCase(), wrongCase("off by two tolerances"), sampleCase({ name: "third" })];
    const failure = { name: "third", kind: "target" as const, message: "unplugged" };
    const summary = summaryOf(cases.slice(0, 2).map(summaryRow), [failure], sampleRun());
    const xml = junitXml(summary, sampleRunCases(cases));
    const elements = readXml(xml);
    const tags = elements.filter((one) => one.name === "testcase").map((one) => one.attributes);
    const classname = "flights/sample.scenario.yaml";
    expect(tags).toEqual([
      { classname, name: "a blade binds at start", time: "80" },
      { classname, name: "wrong case", time: "80" },
      { classname, name: "third" },
    ]);
    const again = xmlText(`\nRun it again: ${SAMPLE_REPEAT}`);
    expect(xml).toMatch(/<failure [^>]*>off by two tolerances&#10;[^<]*<\/failure>/);
    expect(xml.split(again)).toHaveLength(3);
    expect(elements[1]?.attributes["time"]).toBe("160");
  });

  it("[RES-014] gives no time to a flight that counts samples", () => {
    const row = summaryRow(sampleCase({ timeUnit: "sample" }));
    const elements = readXml(junitXml(summaryOf([row], [], sampleRun()), []));
    const found = elements.find((one) => one.name === "testcase")?.attributes;
    expect(found).toEqual({ classname: "core", name: row.name });
  });

  it("[RES-012] the reader of this test finds XML that is not well formed", () => {
    for (const bad of ["<a>", "<a></b>", `<a b="<"/>`, "<a>&</a>", `<a b="1" b="2"/>`]) {
      expect(() => readXml(bad)).toThrow();
    }
    expect(xmlText(`<&>"'`)).toBe("&lt;&amp;&gt;&quot;&apos;");
  });
});
