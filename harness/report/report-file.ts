// Writes report.html piece by piece, so that memory does not grow with the number of cases.
import { closeSync, openSync, renameSync, writeSync } from "node:fs";
import { join } from "node:path";
import type { Summary } from "../results/types.ts";
import { pageHead, pageTail } from "./report-page.ts";

/** The parts of a report that belong to cases, by their ids. */
export interface Sections {
  has(id: string): boolean;
  read(id: string): string;
}

/** Writes the report of a folder; of cases without a section only the counts tell. */
export function writeReport(
  folder: string,
  title: string,
  summary: Summary,
  sections: Sections,
): void {
  const path = join(folder, "report.html");
  const partPath = `${path}.part`;
  const file = openSync(partPath, "w");
  const isDrawn = ({ id }: { id: string }): boolean => sections.has(id);
  try {
    writeSync(file, pageHead(title, summary, isDrawn));
    for (const row of summary.cases) if (isDrawn(row)) writeSync(file, sections.read(row.id));
    writeSync(file, pageTail());
  } finally {
    closeSync(file);
  }
  renameSync(partPath, path);
}
