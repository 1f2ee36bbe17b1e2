import { CAUTION_SENTENCE } from "../../host/caution-sentence.ts";
import type { Summary } from "../results/types.ts";
import { htmlText } from "./html-text.ts";

export function pageHead(title: string, summary: Summary): string {
  return `<!doctype html><title>${htmlText(title)}</title><p>${summary.rightCount}</p>\n`;
}

export function pageTail(): string {
  return `<p>${htmlText(CAUTION_SENTENCE)}</p>\n`;
}
