// What a scenario expects beside the computed truth, and the inputs from outside.
import { nearestHint } from "../../host/input-error.ts";
import type { Path } from "../../host/profile/yaml-tree.ts";
import type { Expectation, InputRow } from "../scene/scene.ts";
import { EVENT_CODES } from "./event-codes.ts";
import type { EventOf } from "./event-codes.ts";
import type { SceneContext } from "./scene-names.ts";
import { momentOf, nameIndex, spanOf } from "./scene-names.ts";
import type { WrittenExpectation, WrittenScenario } from "./scenario-schema.ts";
import { COUNTERS, HEALTH_NAMES } from "./expect-schema.ts";

function sourceIndex(
  context: SceneContext,
  of: EventOf | "check",
  name: string | undefined,
  path: Path,
): number {
  if (of === "device") {
    if (name !== undefined) context.complaints.field(path, "must be left out: the whole device");
    return 0;
  }
  if (of !== "check") return nameIndex(context, of, name, path);
  const index = (HEALTH_NAMES as readonly string[]).indexOf(name ?? "");
  if (index >= 0) return index;
  const found = name ?? "nothing";
  context.complaints.field(
    path,
    `must be a health check, found "${found}"${nearestHint(found, HEALTH_NAMES)}`,
  );
  return 0;
}

type Listed<Key extends keyof WrittenExpectation> = NonNullable<WrittenExpectation[Key]>;

function cautionSpans(context: SceneContext, spans: Listed<"caution on">, path: Path) {
  return spans.map((span, row) => ({
    filter: nameIndex(context, "filter", span.filter, [...path, row, "filter"]),
    ...spanOf(context, span, [...path, row]),
  }));
}

function events(context: SceneContext, written: Listed<"events">, path: Path) {
  return written.map((event, row) => {
    const { of } = EVENT_CODES.get(event.event)!;
    const source = sourceIndex(context, of, event.of, [...path, row, "of"]);
    return { name: event.event, source, ...spanOf(context, event, [...path, row]) };
  });
}

function counters(context: SceneContext, written: Listed<"counters">, path: Path) {
  return written.map((counter, row) => {
    const { field, of } = COUNTERS[counter.counter];
    const min = counter["at least"] ?? 0;
    const max = counter["at most"] ?? Number.MAX_SAFE_INTEGER;
    if (counter["at least"] === undefined && counter["at most"] === undefined) {
      context.complaints.field([...path, row], "needs at least or at most");
    } else if (min > max) {
      context.complaints.field([...path, row, "at least"], "must not exceed at most");
    }
    return {
      name: field,
      index: sourceIndex(context, of, counter.of, [...path, row, "of"]),
      min,
      max,
    };
  });
}

export function buildExpectation(
  context: SceneContext,
  written: WrittenExpectation | undefined,
): Expectation {
  const base: Path = ["expect"];
  if (written === undefined) return { eitherShare: 0.02 };
  const expectation: Expectation = { eitherShare: written["undecided share"] };
  const never = written["caution never"];
  if (never !== undefined) {
    expectation.cautionNever = never.map((name, row) => ({
      filter: nameIndex(context, "filter", name, [...base, "caution never", row]),
    }));
  }
  const on = written["caution on"];
  if (on) expectation.cautionOnWithin = cautionSpans(context, on, [...base, "caution on"]);
  const off = written["caution off"];
  if (off) expectation.cautionOffWithin = cautionSpans(context, off, [...base, "caution off"]);
  if (written.events) expectation.events = events(context, written.events, [...base, "events"]);
  const absent = written["events never"];
  if (absent !== undefined) expectation.eventsNever = absent.map((name) => ({ name }));
  if (written.counters) {
    expectation.counters = counters(context, written.counters, [...base, "counters"]);
  }
  const reason = written["tolerance reason"];
  if (reason !== undefined) expectation.toleranceReason = reason;
  if (written.canary !== undefined) expectation.canary = { check: written.canary };
  if (written.plant !== undefined) {
    expectation.plant = written.plant;
    if (written.canary === undefined) {
      const what = "needs a canary: the check that must find what is planted";
      context.complaints.field([...base, "plant"], what);
    }
  }
  return expectation;
}

/** Rows of inputs; what a row leaves out stays as it was, an acknowledgement ends with its row. */
export function buildInputs(context: SceneContext, written: WrittenScenario["inputs"]): InputRow[] {
  const rows: InputRow[] = [{ timeS: 0, inhibit: 0, acknowledge: 0, running: 0, test: false }];
  for (const [index, row] of written.entries()) {
    const last = rows[rows.length - 1]!;
    const path: Path = ["inputs", index];
    const bits = (kind: "filter" | "shaft", key: "inhibit" | "acknowledge" | "running") => {
      let sum = 0;
      for (const [at, name] of (row[key] ?? []).entries()) {
        sum |= 1 << nameIndex(context, kind, name, [...path, key, at]);
      }
      return sum;
    };
    const next: InputRow = {
      timeS: momentOf(context, row.at, [...path, "at"]),
      inhibit: row.inhibit === undefined ? last.inhibit : bits("filter", "inhibit"),
      acknowledge: bits("filter", "acknowledge"),
      running: row.running === undefined ? last.running : bits("shaft", "running"),
      test: row["functional test"] ?? last.test,
    };
    if (row.at === 0 && index === 0) rows[0] = next;
    else if (row.at <= last.timeS) {
      context.complaints.field([...path, "at"], "must be later than the row before");
    } else rows.push(next);
  }
  return rows;
}
