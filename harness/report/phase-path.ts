// Phase over time as a line that does not cross the picture where an angle goes round.

const TURN_DEG = 360;
/** Lower ends that a phase axis may have, the usual ones first. */
const STARTS_DEG = [0, -180, -90, -270];

/** The same angle within one turn from `startDeg` on. */
function within(angleDeg: number, startDeg: number): number {
  return startDeg + ((((angleDeg - startDeg) % TURN_DEG) + TURN_DEG) % TURN_DEG);
}

/** Two angles so far apart that the way past the end of the axis is shorter. */
function isRound(before: number, after: number): boolean {
  return Math.abs(after - before) > TURN_DEG / 2;
}

/** The lower end of a phase axis of one turn that the angles cross least often. */
export function phaseAxisStart(anglesDeg: readonly number[]): number {
  let best = { startDeg: 0, crossings: Infinity };
  for (const startDeg of STARTS_DEG) {
    let crossings = 0;
    for (let i = 1; i < anglesDeg.length; i += 1) {
      const [before, after] = [
        within(anglesDeg[i - 1]!, startDeg),
        within(anglesDeg[i]!, startDeg),
      ];
      if (isRound(before, after)) crossings += 1;
    }
    if (crossings < best.crossings) best = { startDeg, crossings };
  }
  return best.startDeg;
}

export interface PhaseLine {
  time: number[];
  angleDeg: number[];
}

/**
 * The angles on an axis of one turn from `startDeg` on, with a gap (NaN) wherever the line would
 * run across it; an angle between two gaps stands twice, `dash` apart, so that it is seen.
 */
export function phaseLine(
  time: readonly number[],
  anglesDeg: readonly number[],
  startDeg: number,
  dash: number,
): PhaseLine {
  const line: PhaseLine = { time: [], angleDeg: [] };
  const put = (at: number, angle: number): void => {
    line.time.push(at);
    line.angleDeg.push(angle);
  };
  const mapped = anglesDeg.map((angle) => within(angle, startDeg));
  const isBroken = (i: number): boolean =>
    !Number.isFinite(mapped[i - 1] ?? Number.NaN) ||
    !Number.isFinite(mapped[i] ?? Number.NaN) ||
    isRound(mapped[i - 1]!, mapped[i]!);
  for (const [i, angle] of mapped.entries()) {
    if (i > 0 && isBroken(i)) put(time[i]!, Number.NaN);
    if (!Number.isFinite(angle)) continue;
    put(time[i]!, angle);
    if (isBroken(i) && isBroken(i + 1)) put(time[i]! + dash, angle);
  }
  return line;
}
