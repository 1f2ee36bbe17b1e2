// One text for one value, whenever and wherever it is written: keys sorted, no spaces.

/**
 * JSON with sorted keys.
 *
 * Range     plain data; infinities and NaN become strings, since JSON has no numbers for them
 */
export function canonicalJson(value: unknown): string {
  if (typeof value === "number" && !Number.isFinite(value)) return JSON.stringify(String(value));
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(",")}]`;
  if (value !== null && typeof value === "object") {
    const parts: string[] = [];
    for (const key of Object.keys(value).sort()) {
      const part = (value as Record<string, unknown>)[key];
      if (part !== undefined) parts.push(`${JSON.stringify(key)}:${canonicalJson(part)}`);
    }
    return `{${parts.join(",")}}`;
  }
  return JSON.stringify(value ?? null);
}
