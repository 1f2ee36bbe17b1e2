/** What was thrown, in its own words; anything may be thrown. */
export function messageOf(thrown: unknown): string {
  try {
    return String(thrown instanceof Error ? thrown.message : thrown);
  } catch {
    // An object without a text of its own, or one that throws when it is asked for it.
    return "something was thrown that says nothing";
  }
}
