/** A word as a shell takes it: quoted where it holds more than letters, digits and plain marks. */
export function shellWord(word: string): string {
  return /^[\w./:@%+=,-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`;
}
