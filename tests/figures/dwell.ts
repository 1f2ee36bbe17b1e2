// Dwells with companions ten times as large: the level, phase and speed against what was put in.
import { FLAG_SETTLED } from "../../shared/layout.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { levelsOf, playScene } from "../kit/play-scene.ts";
import {
  channelSignal,
  IN_PER_S_PK,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { type Figure, type Measured, Worst } from "./figure.ts";

const SPEEDS_REV_PER_S = [10, 13.7, 20, 41, 80, 137, 200, 251, 400];
const WHEELS: [positions: number, index: "none" | "missing-tooth"][] = [
  [1, "none"],
  [6, "none"],
  [36, "missing-tooth"],
  [60, "none"],
  [120, "none"],
];
const LAG_DEG = 30;
const LEVEL_IN_PER_S_PK = 1;

/** A dwell at 1 in/s pk, orders 2 and 3 ten times as large as acceleration. */
function dwell(revPerS: number, positions: number, index: "none" | "missing-tooth"): Scene {
  const isFast = revPerS > 200;
  const amplitudePk = (LEVEL_IN_PER_S_PK / IN_PER_S_PK) * 2 * Math.PI * revPerS;
  const profile = monitorProfile({
    clockHz: isFast ? 102_400_000 : 80_000_000,
    sampleRateHz: isFast ? 25_600 : 12_800,
    shafts: [
      shaftProfile({
        positions,
        index,
        timeoutS: isFast ? 0.19 : 0.38,
        speedMinRevPerS: isFast ? 16 : 8,
        validSpeedRevPerS: isFast ? 16 : 8,
        lockRevolutions: 1,
      }),
    ],
  });
  const made = scene({
    name: `dwell ${revPerS} rev/s, P = ${positions}`,
    durationS: 12,
    profile,
    channels: [
      channelSignal([
        orderComponent(1, amplitudePk, LAG_DEG),
        orderComponent(2, 10 * amplitudePk, 77),
        orderComponent(3, 10 * amplitudePk, 190),
      ]),
    ],
  });
  made.shafts[0]!.speed = [{ timeS: 0, revPerS }];
  return made;
}

interface DwellWorst {
  level: Worst;
  phase: Worst;
  speed: Worst;
}

let measured: Promise<DwellWorst> | undefined;

async function measureDwells(): Promise<DwellWorst> {
  const worst: DwellWorst = { level: new Worst(), phase: new Worst(), speed: new Worst() };
  for (const revPerS of SPEEDS_REV_PER_S) {
    for (const [positions, index] of WHEELS) {
      const made = dwell(revPerS, positions, index);
      const settled = levelsOf(await playScene(made)).filter(
        (record) => (record.flags & FLAG_SETTLED) !== 0,
      );
      for (const record of settled) {
        worst.level.take(Math.abs(record.level - LEVEL_IN_PER_S_PK), made.name);
        worst.speed.take(Math.abs(record.speedRevPerS / revPerS - 1), made.name);
        if (positions > 1 && index === "none") continue;
        // Velocity reads the acceleration's lag + 90°.
        const lagDeg = (-Math.atan2(record.im, record.re) * 180) / Math.PI;
        const apart = ((lagDeg - LAG_DEG - 90 + 540) % 360) - 180;
        worst.phase.take(Math.abs(apart), made.name);
      }
    }
  }
  return worst;
}

function figure(
  id: string,
  what: string,
  required: string,
  judge: (worst: DwellWorst) => Measured,
): Figure {
  const measure = async (): Promise<Measured> => judge(await (measured ??= measureDwells()));
  return { id, what, required, measure };
}

const GRID = `${SPEEDS_REV_PER_S.length} speeds × ${WHEELS.length} wheels`;

export const DWELL_FIGURES: Figure[] = [
  figure(
    "DWELL-LEVEL",
    `level at 1 in/s pk, companions ten times as large, 10 to 400 rev/s, P 1 to 120 (${GRID})`,
    "within 0.02 % of reading + 0.0002 in/s pk",
    ({ level }) => ({
      text: `${(level.value * 100).toFixed(4)} % of reading (${level.where})`,
      isOk: level.count > 1000 && level.value <= 0.0002 * LEVEL_IN_PER_S_PK + 0.0002,
    }),
  ),
  figure("DWELL-PHASE", "phase at order 1, the same dwells", "within 0.1°", ({ phase }) => ({
    text: `${phase.value.toFixed(5)}° (${phase.where})`,
    isOk: phase.count > 500 && phase.value <= 0.1,
  })),
  figure("DWELL-SPEED", "speed, the same dwells", "within 0.005 %", ({ speed }) => ({
    text: `${(speed.value * 100).toFixed(5)} % (${speed.where})`,
    isOk: speed.count > 1000 && speed.value <= 0.00005,
  })),
];
