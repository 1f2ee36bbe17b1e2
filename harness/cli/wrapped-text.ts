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

/** Columns that everything on a terminal keeps to. */
export const COLUMNS = 80;

/**
 * Text that follows a head, in lines of at most `COLUMNS`; those after the first stand `by` in.
 *
 * Shape     the head as it is, with the blanks that it ends in; a longer word stands alone
 */
export function hanging(head: string, text: string, by: number): string {
  const lines: string[] = [];
  let line = head;
  let isEmpty = true;
  for (const word of text.split(/\s+/).filter((one) => one !== "")) {
    const gap = isEmpty || line.endsWith(" ") ? "" : " ";
    if (!isEmpty && line.length + gap.length + word.length > COLUMNS) {
      lines.push(line);
      line = " ".repeat(by) + word;
    } else line += gap + word;
    isEmpty = false;
  }
  return [...lines, line].join("\n").trimEnd();
}

/** Text from files without the characters that steer a terminal. */
export function printable(text: string): string {
  return text.replace(/(?![\t\n\r])\p{Cc}/gu, "\u{fffd}");
}
