// The summary in the JUnit form that build servers read: one test case a case, no times, so that the
// file is the same in every run of the same work.
import type { Summary } from "./types.ts";

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

/** The summary as one test suite; a wrong verdict is a failure, a case without a verdict an error. */
export function junitXml(summary: Summary): string {
  const { cases, failures } = summary;
  const lines = [
    `<?xml version="1.0" encoding="UTF-8"?>`,
    `<testsuites name="amberline" tests="${cases.length + failures.length}" ` +
      `failures="${summary.wrongCount}" errors="${failures.length}">`,
    `  <testsuite name="amberline run" tests="${cases.length + failures.length}" ` +
      `failures="${summary.wrongCount}" errors="${failures.length}" skipped="0">`,
  ];
  for (const one of cases) {
    const head = `    <testcase classname="${xmlText(summary.target.kind)}" name="${xmlText(one.name)}"`;
    if (one.isRight) lines.push(`${head}/>`);
    else {
      lines.push(
        `${head}>`,
        `      <failure message="${xmlText(one.why)}">${xmlText(one.question)}</failure>`,
        `    </testcase>`,
      );
    }
  }
  for (const one of failures) {
    lines.push(
      `    <testcase classname="${xmlText(summary.target.kind)}" name="${xmlText(one.name)}">`,
      `      <error type="${one.kind}" message="${xmlText(one.message)}"/>`,
      `    </testcase>`,
    );
  }
  lines.push(`  </testsuite>`, `</testsuites>`, ``);
  return lines.join("\n");
}
