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
