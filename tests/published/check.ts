// Runs the check of a row and notes that it ran, so that the table can be held against the tests.
import { expect, test } from "vitest";

const registered = new Set<string>();
const begun = new Set<string>();
const trapped = new Set<string>();

/**
 * Ids for which a check stands, those whose check has begun to run in this process, and the traps
 * (table/traps.ts) whose negative test has.
 */
export const CHECKED: Record<"registered" | "begun" | "trapped", ReadonlySet<string>> = {
  registered,
  begun,
  trapped,
};

/** A test of one row; it must assert something. A row may have several. */
export function check(id: string, what: string, body: () => void | Promise<void>): void {
  registered.add(id);
  test(`[${id}] ${what}`, async () => {
    begun.add(id);
    expect.hasAssertions();
    await body();
  });
}

/** A negative test: it fails where the product falls into a trap of table/traps.ts. */
export function trap(row: string, what: string, body: () => void | Promise<void>): void {
  test(`[${row}] trap: ${what}`, async () => {
    trapped.add(row);
    expect.hasAssertions();
    await body();
  });
}

/** `exact` in the sense of the rows: 1e-12 of the value. */
export const EXACT = 1e-12;

/** Whether a value stands within a share of what is wanted. */
export function isWithin(found: number, wanted: number, share: number): boolean {
  return Math.abs(found / wanted - 1) <= share;
}

export function near(found: number, wanted: number, share: number): void {
  expect(Math.abs(found / wanted - 1), `${found} against ${wanted}`).toBeLessThanOrEqual(share);
}

export function nearBy(found: number, wanted: number, amount: number): void {
  expect(Math.abs(found - wanted), `${found} against ${wanted}`).toBeLessThanOrEqual(amount);
}
