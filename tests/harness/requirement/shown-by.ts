// What a scenario must have in it to show what a requirement of the indication speaks of: for each
// requirement its parts. A named scenario shows one part at least, and each part is shown.
import type { ChannelFault, Component, Scene, TachFault } from "../../../harness/scene/scene.ts";
import { CHECKS } from "../../../harness/scenario/expect-schema.ts";

export type Part = (scene: Scene) => boolean;

type Caution = NonNullable<Scene["profile"]["filters"][number]["display"]["caution"]>;

const WRAP_TICKS = 2 ** 32;

const components = (scene: Scene): Component[] =>
  scene.channels.flatMap((channel) => channel.components);
const has = (scene: Scene, kind: Component["kind"]): boolean =>
  components(scene).some((one) => one.kind === kind);
const broken = (scene: Scene, kind: ChannelFault["kind"]): boolean =>
  scene.channels.some(({ faults }) => faults.some((one) => one.kind === kind));
const astray = (scene: Scene, ...kinds: TachFault["kind"][]): boolean =>
  scene.shafts.some(({ faults }) => faults.some((one) => kinds.includes(one.kind)));
const speeds = (scene: Scene): number[] =>
  scene.shafts.flatMap(({ speed }) => speed.map(({ revPerS }) => revPerS));

/** Steepest change of speed, rev/s². */
function steepest({ shafts }: Scene): number {
  const slopes = shafts.flatMap(({ speed }) =>
    speed.slice(1).map(({ timeS, revPerS }, i) => {
      const before = speed[i]!;
      return timeS > before.timeS
        ? Math.abs(revPerS - before.revPerS) / (timeS - before.timeS)
        : Infinity;
    }),
  );
  return Math.max(0, ...slopes);
}

/** Longest rest of a shaft, s. */
function restS({ shafts, durationS }: Scene): number {
  const rests = shafts.flatMap(({ speed }) =>
    speed.map(({ timeS, revPerS }, i) => {
      const next = speed[i + 1];
      if (revPerS > 0 || (next !== undefined && next.revPerS > 0)) return 0;
      return (next?.timeS ?? durationS) - timeS;
    }),
  );
  return Math.max(0, ...rests);
}

/** Amplitudes that a component takes, where it states any. */
function amplitudes(one: Component): { amplitudePk: number; phaseLagRad: number }[] {
  if (one.kind !== "order") return [];
  return "rows" in one.envelope ? one.envelope.rows : [one.envelope];
}

/** Whether something at another place than the order is so many times as large as it. */
function hasCompany(scene: Scene, times: number): boolean {
  const most = (isOwn: boolean): number =>
    Math.max(
      0,
      ...components(scene)
        .filter((one) => one.kind === "order" && (one.order === 1 && one.shaft === 0) === isOwn)
        .flatMap(amplitudes)
        .map(({ amplitudePk }) => amplitudePk),
    );
  return most(true) > 0 && most(false) >= times * most(true) * (1 - 1e-9);
}

interface Shown {
  /** Whole counts of the display, from the true amplitude. */
  counts: number;
  fromS: number;
  untilS: number;
}

/** What a filter with a caution must show of its own order, by the steps of its amplitude. */
function shownOf(scene: Scene): { rows: Shown[]; caution: Caution; stepS: number }[] {
  return scene.profile.filters.flatMap((filter) => {
    const { caution, scale, step } = filter.display;
    const own = scene.channels[filter.channel]!.components.find(
      (one) => one.kind === "order" && one.shaft === filter.shaft && one.order === filter.order,
    );
    if (caution === undefined || own?.kind !== "order") return [];
    if (own.quantity !== filter.quantity) return [];
    const all: { amplitudePk: number; timeS?: number }[] = amplitudes(own);
    const rows = all.map(({ amplitudePk, timeS }, i) => ({
      counts: Math.floor((amplitudePk * filter.levelFactor * scale[0]!.factor) / step + 0.5),
      fromS: timeS ?? 0,
      untilS: all[i + 1]?.timeS ?? scene.durationS,
    }));
    return [{ rows, caution, stepS: scene.profile.displayPeriodS }];
  });
}

/** A number at the level for some steps of the display, but for no longer than the on-delay. */
const risesShortly: Part = (scene) =>
  shownOf(scene).some(({ rows, caution, stepS }) =>
    rows.some(
      ({ counts, fromS, untilS }, i) =>
        counts >= caution.levelCounts &&
        i > 0 &&
        rows[i - 1]!.counts < caution.levelCounts &&
        (rows[i + 1]?.counts ?? Infinity) < caution.levelCounts &&
        untilS - fromS > stepS &&
        untilS - fromS < caution.onDelaySteps * stepS,
    ),
  );
const reaches =
  (below: number): Part =>
  (scene) =>
    shownOf(scene).some(
      ({ rows, caution }) =>
        Math.max(...rows.map(({ counts }) => counts)) === caution.levelCounts - below,
    );
/** A number under the level, not under the hysteresis, after one at the level. */
const isHeld: Part = (scene) =>
  shownOf(scene).some(({ rows, caution }) =>
    rows.some(
      ({ counts }, i) =>
        counts < caution.levelCounts &&
        counts >= caution.levelCounts - caution.hysteresisCounts &&
        rows.slice(0, i).some((one) => one.counts >= caution.levelCounts),
    ),
  );
/** A number at the level while its caution is inhibited. */
const isInhibited: Part = (scene) =>
  scene.inputs.some(
    ({ inhibit, timeS }) =>
      inhibit !== 0 &&
      shownOf(scene).some(({ rows, caution }) =>
        rows.some((one) => one.counts >= caution.levelCounts && one.untilS > timeS),
      ),
  );

const stepsBy =
  (key: "amplitudePk" | "phaseLagRad"): Part =>
  (scene) =>
    components(scene).some((one) => new Set(amplitudes(one).map((row) => row[key])).size > 1);
const besideAnOrder: Part = (scene) =>
  components(scene).some(
    (one) => one.kind === "tone" || (one.kind === "order" && one.order % 1 !== 0),
  );
const filterWith =
  (isSo: (filter: Scene["profile"]["filters"][number]) => boolean): Part =>
  ({ profile }) =>
    profile.filters.some(isSo);
const cautionWith = (isSo: (caution: Caution) => boolean): Part =>
  filterWith(({ display }) => display.caution !== undefined && isSo(display.caution));
const inputWith =
  (isSo: (row: Scene["inputs"][number]) => boolean): Part =>
  ({ inputs }) =>
    inputs.some(isSo);
const awaits =
  (name: string): Part =>
  ({ expectation }) =>
    expectation.events?.some((one) => one.name === name) ?? false;
const planted =
  (name: string): Part =>
  ({ expectation }) =>
    expectation.plant?.alteration === name;
const noCaution: Part = ({ expectation }) => (expectation.cautionNever?.length ?? 0) > 0;
const cautionComes: Part = ({ expectation }) => (expectation.cautionOnWithin?.length ?? 0) > 0;
const cautionGoes: Part = ({ expectation }) => (expectation.cautionOffWithin?.length ?? 0) > 0;
const both =
  (...parts: Part[]): Part =>
  (scene) =>
    parts.every((part) => part(scene));
const moves: Part = (scene) => steepest(scene) > 0;
const dropsOut: Part = (scene) => astray(scene, "drop-out");
const isTested = inputWith(({ test }) => test);

export const SHOWN_BY: Readonly<Record<string, Readonly<Record<string, Part>>>> = {
  "IND-001": { dwell: (scene) => !moves(scene), ramp: moves },
  "IND-002": { company: (scene) => !moves(scene) && hasCompany(scene, 10) },
  "IND-003": { company: (scene) => moves(scene) && hasCompany(scene, 10) },
  "IND-004": {
    "near a ratio": both(besideAnOrder, (scene) => hasCompany(scene, 1)),
    "through a ratio": (scene) => scene.shafts.length > 1 && moves(scene) && hasCompany(scene, 1),
  },
  "IND-005": {
    fixed: both(
      besideAnOrder,
      filterWith(({ bandwidth }) => bandwidth.kind === "fixed"),
    ),
    share: both(
      besideAnOrder,
      filterWith(({ bandwidth }) => bandwidth.kind === "proportional"),
    ),
  },
  "IND-006": { amplitude: stepsBy("amplitudePk"), phase: stepsBy("phaseLagRad") },
  "IND-007": {
    acceleration: filterWith(({ quantity }) => quantity === "acceleration"),
    velocity: filterWith(({ quantity }) => quantity === "velocity"),
    displacement: filterWith(({ quantity }) => quantity === "displacement"),
    rms: filterWith(({ detector }) => detector === "rms"),
    "pk-pk": filterWith(({ detector }) => detector === "pk-pk"),
    integrated: ({ profile }) =>
      profile.filters.some((one) => one.quantity !== profile.channels[one.channel]!.quantity),
  },
  "IND-008": {
    index: ({ profile }) => profile.shafts.some((one) => one.index !== "none"),
    "no index": ({ profile }) =>
      profile.shafts.some((one) => one.index === "none" && one.positions > 1),
  },
  "IND-009": {
    filters: ({ channels }) => channels.some(({ frontEnd }) => frontEnd.kind === "filters"),
    table: ({ channels }) => channels.some(({ frontEnd }) => frontEnd.kind === "table"),
  },
  "IND-010": {
    "beside a tone": (scene) => has(scene, "noise") && has(scene, "order"),
    alone: (scene) => has(scene, "noise") && !has(scene, "order"),
  },
  "IND-011": {
    slow: (scene) => has(scene, "rotor") && steepest(scene) > 0 && steepest(scene) <= 2.001,
    fast: (scene) => has(scene, "rotor") && steepest(scene) >= 20,
  },
  "IND-012": {
    step: (scene) =>
      components(scene).some((one) => one.kind === "rotor" && one.unbalance.length > 1),
  },
  "IND-013": { "other steps": filterWith(({ display }) => display.step !== 0.1) },
  "IND-014": {
    "over the top": (scene) => {
      const { display, levelFactor } = scene.profile.filters[0]!;
      const most = Math.max(
        ...components(scene)
          .flatMap(amplitudes)
          .map((row) => row.amplitudePk),
      );
      return most * levelFactor * display.scale[0]!.factor > display.countsMax * display.step;
    },
  },
  "IND-015": { smoothing: filterWith(({ display }) => display.smoothingS > 0) },
  "IND-016": {
    scale: both(
      moves,
      filterWith(({ display }) => display.scale.length > 1),
    ),
  },
  "IND-017": {
    greatest: both(
      dropsOut,
      filterWith(({ display }) => display.source.kind === "greatest"),
    ),
  },
  "IND-018": {
    word: both(
      isTested,
      dropsOut,
      filterWith(({ display }) => display.word !== undefined),
    ),
    "found wrong": both(
      planted("word"),
      filterWith(({ display }) => display.word !== undefined),
    ),
  },
  "IND-019": {
    "at the level": both(cautionComes, reaches(0)),
    "below it": both(noCaution, reaches(1)),
  },
  "IND-020": {
    none: both(
      cautionGoes,
      cautionWith(({ hysteresisCounts }) => hysteresisCounts === 0),
    ),
    some: both(
      cautionGoes,
      cautionWith(({ hysteresisCounts }) => hysteresisCounts > 0),
    ),
  },
  "IND-021": {
    "on-delay": both(noCaution, risesShortly),
  },
  "IND-022": {
    hysteresis: both(
      cautionComes,
      cautionWith((one) => one.hysteresisCounts > 0),
    ),
    delay: both(
      cautionComes,
      cautionWith((one) => one.hysteresisCounts === 0 && one.offDelaySteps > 0),
    ),
  },
  "IND-023": { "in a ramp": both(moves, cautionComes) },
  "IND-024": {
    "at once": both(
      cautionComes,
      cautionGoes,
      cautionWith((one) => one.onDelaySteps + one.offDelaySteps === 0),
    ),
  },
  "IND-025": {
    "delay runs": both(
      inputWith(({ inhibit }) => inhibit !== 0),
      cautionWith((one) => one.delayRunsUnderInhibit),
    ),
    "delay restarts": both(
      inputWith(({ inhibit }) => inhibit !== 0),
      cautionWith((one) => !one.delayRunsUnderInhibit),
    ),
  },
  "IND-026": {
    acknowledged: both(
      inputWith(({ acknowledge }) => acknowledge !== 0),
      awaits("acknowledged"),
    ),
    "while off": both(
      inputWith(({ acknowledge }) => acknowledge !== 0),
      ({ expectation }) =>
        expectation.eventsNever?.some((one) => one.name === "acknowledged") ?? false,
    ),
  },
  "IND-027": {
    timing: both(noCaution, risesShortly),
    held: both(cautionGoes, isHeld),
    inhibited: isInhibited,
    "found wrong": planted("caution-state"),
  },
  "IND-028": { hour: both(noCaution, ({ durationS }) => durationS >= 3600) },
  "IND-029": {
    ends: both(
      awaits("caution-ended-invalid"),
      cautionWith((one) => one.whenInvalid === "end"),
    ),
    holds: both(
      awaits("caution-ended-invalid"),
      cautionWith((one) => one.whenInvalid === "hold"),
    ),
  },
  "IND-030": {
    start: (scene) => awaits("valid")(scene) && !dropsOut(scene) && !isTested(scene),
    "drop-out": dropsOut,
    test: both(isTested, awaits("valid")),
  },
  "IND-031": {
    delay: (scene) => moves(scene) && scene.profile.shafts.some((one) => one.validDelaySteps > 0),
    hysteresis: (scene) =>
      moves(scene) && scene.profile.shafts.some((one) => one.validHysteresisRevPerS > 0),
  },
  "IND-032": {
    turns: both(
      dropsOut,
      inputWith(({ running }) => running !== 0),
    ),
    rests: (scene) => restS(scene) > 10,
  },
  "IND-033": {
    held: both(
      dropsOut,
      filterWith(({ display }) => display.holdSteps > 0),
    ),
    "not held": both(
      dropsOut,
      filterWith(({ display }) => display.holdSteps === 0),
    ),
  },
  "IND-034": { substitute: both(awaits("substitute-on"), (scene) => broken(scene, "flat")) },
  "IND-035": { test: isTested },
  "IND-036": { missed: (scene) => astray(scene, "missed", "missed-position") },
  "IND-037": { glitch: (scene) => astray(scene, "glitch", "glitch-position") },
  "IND-038": { "drop-out": both(dropsOut, awaits("reference-lost"), awaits("valid")) },
  "IND-039": {
    jitter: ({ shafts }) => shafts.some(({ wheel }) => wheel.jitterS > 0),
    eccentric: ({ shafts }) => shafts.some(({ wheel }) => wheel.eccentricityRev > 0),
    "bad tooth": ({ shafts }) => shafts.some(({ wheel }) => wheel.badTooth !== undefined),
  },
  "IND-040": { "index lost": (scene) => astray(scene, "index-lost") },
  "IND-041": {
    positions: ({ shafts, profile }) =>
      shafts.some(({ wheel }, i) => wheel.positions !== profile.shafts[i]!.positions),
  },
  "IND-042": {
    wrap: ({ profile, durationS }) => durationS * profile.clockHz > WRAP_TICKS,
    rest: (scene) => restS(scene) * scene.profile.clockHz > WRAP_TICKS,
  },
  "IND-043": { loose: both(noCaution, (scene) => broken(scene, "loose")) },
  "IND-044": {
    flat: both(awaits("transducer-fault"), (scene) => broken(scene, "flat")),
    open: both(awaits("transducer-fault"), (scene) => broken(scene, "open")),
    "at rest": (scene) => speeds(scene).includes(0) && !awaits("transducer-fault")(scene),
  },
  "IND-045": {
    clip: both(awaits("transducer-fault"), (scene) => broken(scene, "clip")),
    converter: ({ channels }) => channels.some(({ converter }) => converter.format === "i16"),
  },
  "IND-046": { spike: (scene) => broken(scene, "spike"), rise: stepsBy("amplitudePk") },
  "IND-047": {
    channel: (scene) => scene.channels.length > 1 && broken(scene, "flat"),
    tachometer: (scene) => scene.shafts.length > 1 && dropsOut(scene),
    engine: (scene) => scene.shafts.length > 1 && scene.channels.length > 1 && cautionComes(scene),
  },
  "IND-050": Object.fromEntries([
    ...CHECKS.map((check): [string, Part] => [
      check,
      ({ expectation }) => expectation.canary?.check === check,
    ]),
    ["output word", planted("word")],
  ]),
  "IND-051": { "not finite": (scene) => broken(scene, "not-finite") },
};
