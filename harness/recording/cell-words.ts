// What is said of a cell that should hold a number.

/** `"4x" is not a number`, and what would help where a decimal comma is the cause. */
export function notANumber(cell: string): string {
  const found = cell.trim().slice(0, 40);
  const hint = /^[+-]?\d+,\d+$/.test(found) ? "; write a decimal point" : "";
  return `"${found}" is not a number${hint}`;
}
