import type { CaseResult } from "../results/types.ts";
import { htmlText } from "./html-text.ts";

export function drawCaseSection(result: CaseResult): string {
  return `<section id="case-${result.id}"><h2>${htmlText(result.name)}</h2></section>\n`;
}
