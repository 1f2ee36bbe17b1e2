import { describe, expect, it } from "vitest";
import { RECORD_BYTES, RECORD_SEQUENCE } from "../../../shared/layout.ts";
import { RecordIntake } from "../../../host/link/record-intake.ts";

/** An answer with records of these sequences, none of which waits. */
function answerOf(...sequences: number[]) {
  const records = new Uint8Array(sequences.length * RECORD_BYTES);
  const view = new DataView(records.buffer);
  sequences.forEach((one, i) => view.setUint32(i * RECORD_BYTES + RECORD_SEQUENCE, one, true));
  return { status: 0, waitingCount: sequences.length, nextSample: 0, records };
}

function sequencesOf(bytes: Uint8Array): number[] {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return Array.from({ length: bytes.byteLength / RECORD_BYTES }, (_, i) =>
    view.getUint32(i * RECORD_BYTES + RECORD_SEQUENCE, true),
  );
}

describe("records over the link", () => {
  it("[LINK-078] are new or known by their distance, over the end of 32 bits, too", () => {
    const intake = new RecordIntake();
    // Records that found no room leave gaps.
    for (const sequence of [0, 0x7fff_fffe, 0xffff_fffd]) intake.take(answerOf(sequence));
    intake.take(answerOf(0xffff_fffc, 0xffff_fffd, 0xffff_fffe));
    intake.take(answerOf(0xffff_fffe, 0xffff_ffff, 0, 1));
    expect(intake.acknowledged).toBe(2);
    intake.take(answerOf(0xffff_ffff, 0, 1));
    const taken = [0, 0x7fff_fffe, 0xffff_fffd, 0xffff_fffe, 0xffff_ffff, 0, 1];
    expect(sequencesOf(intake.drain())).toEqual(taken);
    expect(sequencesOf(intake.drain())).toEqual([]);
  });

  it("[LINK-078] begin at 0 again after a reset, and what was not taken is gone", () => {
    const intake = new RecordIntake();
    intake.take(answerOf(5, 6));
    intake.reset();
    expect(intake.acknowledged).toBe(0);
    intake.take(answerOf(0));
    expect(sequencesOf(intake.drain())).toEqual([0]);
  });
});
