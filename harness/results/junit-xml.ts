// The summary in the JUnit form that build servers read: one test case a case. Its times are those of
// the flights, so that the file is the same in every run of the same work from the same folder.
import type { RunCase, Summary, SummaryRow } from "./types.ts";

/** Text as XML 1.0 allows it: the five signs escaped, characters outside the standard replaced. */
export function xmlText(text: string): string {
  return text
    .replace(/[^\t\n\r\u{20}-\u{d7ff}\u{e000}-\u{fffd}\u{10000}-\u{10ffff}]/gu, "\u{fffd}")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&apos;")
    .replace(/[\t\n\r]/g, (one) => `&#${one.charCodeAt(0)};`);
}

/** A case's tags: its file as class, its flight's seconds as time. */
function caseTag(name: string, file: string, timeS: number | undefined): string {
  const time = timeS === undefined ? "" : ` time="${timeS}"`;
  return `    <testcase classname="${xmlText(file)}" name="${xmlText(name)}"${time}`;
}

/** What kind of failure: the check, or that nothing can be shown. */
function failureType({ decision, worstCheck }: SummaryRow): string {
  const isShown = decision === undefined || decision === "outside";
  return isShown ? worstCheck : decision;
}

/** A row's seconds of flight; a case that counts samples has none. */
function flightS({ durationS, timeUnit }: SummaryRow): number | undefined {
  return timeUnit === "s" ? durationS : undefined;
}

/**
 * The summary as one test suite; a wrong verdict is a failure, a case without a verdict an error.
 *
 * Shape     cases: where each came from and how it is run again, by name
 */
export function junitXml(summary: Summary, cases: readonly RunCase[]): string {
  const { failures } = summary;
  const byName = new Map(cases.map((one) => [one.name, one]));
  const fileOf = (name: string): string => byName.get(name)?.file ?? summary.target.kind;
  const repeatOf = (name: string): string => `Run it again: ${byName.get(name)?.repeat ?? "–"}`;
  const sumS = summary.cases.reduce((sum, one) => sum + (flightS(one) ?? 0), 0);
  const counts =
    `tests="${summary.cases.length + failures.length}" failures="${summary.wrongCount}" ` +
    `errors="${failures.length}"`;
  const lines = [
    `<?xml version="1.0" encoding="UTF-8"?>`,
    `<testsuites name="amberline" ${counts} time="${sumS}">`,
    `  <testsuite name="amberline run" ${counts} skipped="0" time="${sumS}">`,
    `    <properties>`,
    `      <property name="time" value="seconds of flight; run.json has the seconds they took"/>`,
    `    </properties>`,
  ];
  for (const one of summary.cases) {
    const head = caseTag(one.name, fileOf(one.name), flightS(one));
    if (one.isRight) lines.push(`${head}/>`);
    else {
      const text = `${one.why}\n${one.question}\n${repeatOf(one.name)}`;
      lines.push(
        `${head}>`,
        `      <failure type="${xmlText(failureType(one))}" message="${xmlText(one.why)}">` +
          `${xmlText(text)}</failure>`,
        `    </testcase>`,
      );
    }
  }
  for (const { name, kind, message } of failures) {
    lines.push(
      `${caseTag(name, fileOf(name), undefined)}>`,
      `      <error type="${kind}" message="${xmlText(message)}">` +
        `${xmlText(`${message}\n${repeatOf(name)}`)}</error>`,
      `    </testcase>`,
    );
  }
  lines.push(`  </testsuite>`, `</testsuites>`, ``);
  return lines.join("\n");
}
