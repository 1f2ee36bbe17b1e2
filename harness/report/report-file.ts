// Writes report.html piece by piece, so that memory does not grow with the number of cases.
import { closeSync, openSync, renameSync, writeSync } from "node:fs";
import { join } from "node:path";
import type { Summary } from "../results/types.ts";
import { pageHead, pageTail } from "./report-page.ts";

/** Writes the report of a folder; `section` gives each case's part by its id. */
export function writeReport(
  folder: string,
  title: string,
  summary: Summary,
  section: (id: string) => string,
): void {
  const path = join(folder, "report.html");
  const partPath = `${path}.part`;
  const file = openSync(partPath, "w");
  try {
    writeSync(file, pageHead(title, summary));
    for (const { id } of summary.cases) writeSync(file, section(id));
    writeSync(file, pageTail());
  } finally {
    closeSync(file);
  }
  renameSync(partPath, path);
}
