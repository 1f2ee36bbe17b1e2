// The tachometer wheel as it is really fitted: the places of a cycle at which an edge may come.
import type { ShaftMotion } from "../scene/scene.ts";
import { sineOfRev } from "./sine.ts";

export interface WheelPlace {
  /** Position from the index; the extra edge has the one before it. */
  position: number;
  /** Place in the cycle, 0 to 1, with the wheel's errors. */
  cyclePart: number;
  /** A tooth stands here. */
  isFitted: boolean;
  /** What makes the index: the missing tooth, or the extra edge. */
  isIndexMark: boolean;
  isExtra: boolean;
}

/** Errors: wheel errors that put a place before the one it follows. */
export function wheelPlaces(wheel: ShaftMotion["wheel"]): WheelPlace[] {
  const places: WheelPlace[] = [];
  const count = wheel.positions;
  for (let position = 0; position < count; position += 1) {
    const isMissing = wheel.index === "missing-tooth" && position === count - 1;
    places.push({
      position,
      cyclePart: position / count + errorRev(wheel, position) / wheel.revolutions,
      isFitted: !isMissing,
      isIndexMark: isMissing,
      isExtra: false,
    });
  }
  if (wheel.index === "extra-edge") {
    const half = count - 0.5;
    places.push({
      position: count - 1,
      cyclePart: half / count + errorRev(wheel, half) / wheel.revolutions,
      isFitted: true,
      isIndexMark: true,
      isExtra: true,
    });
  }
  for (const [i, place] of places.entries()) {
    const next = places[i + 1]?.cyclePart ?? places[0]!.cyclePart + 1;
    if (!(next > place.cyclePart)) throw new Error("errors of the wheel put a tooth past the next");
  }
  return places;
}

function errorRev(wheel: ShaftMotion["wheel"], position: number): number {
  const bad = wheel.badTooth?.position === position ? wheel.badTooth.offsetRev : 0;
  return wheel.eccentricityRev * sineOfRev(position / wheel.positions) + bad;
}
