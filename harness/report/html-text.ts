// Text from files on its way into HTML: always through here.

/** Text as HTML shows it, in content and in quoted attributes; control characters are replaced. */
export function htmlText(text: string): string {
  return text
    .replace(/(?![\t\n\r])\p{Cc}/gu, "\u{fffd}")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&#39;");
}

const UNITS =
  "s|samples?|r/min|rev/s|rev|Hz|kg|g mm|g|in/s|mm/s|m/s²|mil|um|µm|µs|units|pk-pk|pk|rms|%";
const BEFORE_UNIT = new RegExp(
  `(?<=\\d|in/s|mm/s|m/s²|mil|um|µm|g|units) (?=(?:${UNITS})(?![\\w/]))`,
  "g",
);

/** Text as HTML in which no line break parts a number from its unit. */
export function quantityText(text: string): string {
  return htmlText(text).replace(BEFORE_UNIT, "\u{a0}");
}
