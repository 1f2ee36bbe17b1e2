// The judge of a canary: plants an error in the records, and is right only where the named check
// finds it, and finds nothing without it.
import type { Counters } from "../../host/record-types.ts";
import type { Scene } from "../scene/scene.ts";
import type { SceneTruth } from "../truth/types.ts";
import type { Alteration, Place } from "./alteration.ts";
import { ALTERATIONS, alter, alterationNamed } from "./alterations.ts";
import { judgeAltered, judgeRecorded } from "./alteration-run.ts";
import { CheckTally } from "./check-tally.ts";
import type { Judge } from "./streaming-judge.ts";
import type { Verdict } from "./types.ts";

/** A canary is kept whole: a quarter of a million records is more than one needs. */
const PLANT_BYTES_MAX = 16 * 1024 * 1024;

/** Keeps a canary's records, plants, and judges twice. */
export class PlantingJudge implements Judge {
  private readonly pieces: Uint8Array[] = [];
  private bytes = 0;
  private readonly scene: Scene;
  private readonly truth: SceneTruth;

  constructor(scene: Scene, truth: SceneTruth) {
    this.scene = scene;
    this.truth = truth;
  }

  take(records: Uint8Array): void {
    this.bytes += records.byteLength;
    if (this.bytes <= PLANT_BYTES_MAX) this.pieces.push(records.slice());
  }

  finish(counters: Counters): Verdict {
    const { recorded, verdict } = judgeRecorded(this.scene, this.truth, this.whole(), counters);
    const { plant, canary } = this.scene.expectation;
    if (plant === undefined) return verdict;
    const { alteration: name, amount } = plant;
    const alteration = alterationNamed(name);
    if (this.bytes > PLANT_BYTES_MAX) return refused(verdict, "the flight is too long to plant in");
    if (alteration === undefined) {
      const names = ALTERATIONS.map((one) => one.name).join(", ");
      return refused(verdict, `no alteration is called "${name}"; there are ${names}`);
    }
    const places = planted(
      alteration,
      alteration.places(recorded).filter((place) => place.isOpen !== true),
    );
    if (places.length === 0) return refused(verdict, `there is nothing to alter by "${name}"`);
    const altered = judgeAltered(recorded, alter(recorded, alteration, places, amount));
    if (canary === undefined) return altered;
    const wasRight = verdict.checks.every((one) => one.check !== canary.check || one.isRight);
    const isFound = altered.checks.some((one) => one.check === canary.check && !one.isRight);
    if (!wasRight) return refused(altered, `"${canary.check}" is wrong without the planted error`);
    return { ...altered, isRight: isFound };
  }

  private whole(): Uint8Array {
    const whole = new Uint8Array(this.pieces.reduce((sum, piece) => sum + piece.byteLength, 0));
    let at = 0;
    for (const piece of this.pieces) {
      whole.set(piece, at);
      at += piece.byteLength;
    }
    return whole;
  }
}

/** All places where the records are judged one by one, else the middle one. */
function planted(alteration: Alteration, places: Place[]): Place[] {
  return alteration.isTogether
    ? places
    : places.slice(places.length >> 1, (places.length >> 1) + 1);
}

/** A canary that says nothing: wrong, with the reason among its checks. */
function refused(verdict: Verdict, why: string): Verdict {
  const tally = new CheckTally("expectation", -1, "items");
  tally.fact(false, 0, () => `the canary proves nothing: ${why}`);
  return { ...verdict, isRight: false, checks: [...verdict.checks, tally.result("plant", "")] };
}
