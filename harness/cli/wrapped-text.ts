// Text for a terminal of limited width.

/** Words broken into lines of at most `width`; a longer word stands alone. */
export function wrapped(text: string, width: number): string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(/\s+/).filter((one) => one !== "")) {
    if (line !== "" && line.length + 1 + word.length > width) {
      lines.push(line);
      line = "";
    }
    line = line === "" ? word : `${line} ${word}`;
  }
  if (line !== "") lines.push(line);
  return lines;
}

/** Text from files without the characters that steer a terminal. */
export function printable(text: string): string {
  return text.replace(/(?![\t\n\r])\p{Cc}/gu, "\u{fffd}");
}
