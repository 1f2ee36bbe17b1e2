// A scenario from YAML → the scenes that it stands for, one per row of its table.
import { dirname, relative, resolve, sep } from "node:path";
import type { Complaint } from "../../host/input-error.ts";
import { InputError } from "../../host/input-error.ts";
import { Complaints, parseLocated } from "../../host/profile/located-parse.ts";
import { profileOfTree } from "../../host/profile/profile-reader.ts";
import type { TimeUnit } from "../../host/profile/profile-schema.ts";
import type { Container } from "../../host/profile/yaml-tree.ts";
import {
  parseYaml,
  placeIn,
  placeOf,
  readSmallFile,
  setPlace,
} from "../../host/profile/yaml-tree.ts";
import type { ChannelSignal, MonitorProfile, Scene, ShaftMotion } from "../scene/scene.ts";
import { caseSeed, USER_SEED } from "./case-seed.ts";
import { caseRows, fillCase } from "./case-table.ts";
import { buildChannelSignal } from "./scene-channel.ts";
import { buildExpectation, buildInputs } from "./scene-expectation.ts";
import type { SceneContext } from "./scene-names.ts";
import { buildShaftMotion } from "./scene-shaft.ts";
import type { WrittenScenario } from "./scenario-schema.ts";
import { scenarioSchema } from "./scenario-schema.ts";

export interface ScenarioOptions {
  /** The user's seed; USER_SEED where none is given. */
  seed?: number;
  /** Only cases whose name holds this text. */
  only?: string;
  /** Names of cases are paths from here; the file's own folder where none is given. */
  root?: string;
  /** Takes what is allowed and seldom meant, case by case. */
  onWarning?: (warning: Complaint) => void;
}

type Tree = { [key: string]: unknown };

const SCHEMAS = new Map<TimeUnit, ReturnType<typeof scenarioSchema>>();

function schemaFor(timeUnit: TimeUnit): ReturnType<typeof scenarioSchema> {
  let schema = SCHEMAS.get(timeUnit);
  if (schema === undefined) SCHEMAS.set(timeUnit, (schema = scenarioSchema(timeUnit)));
  return schema;
}

/** Puts changes into a profile's tree, key by key; null takes a key away. */
function applyChanges(profile: Tree, changes: Tree): void {
  for (const [key, change] of Object.entries(changes)) {
    const place = placeIn(changes, key);
    const current = profile[key];
    const isMap = (value: unknown): value is Tree =>
      typeof value === "object" && value !== null && !Array.isArray(value);
    if (change === null) delete profile[key];
    else if (isMap(change) && isMap(current)) applyChanges(current, change);
    else {
      profile[key] = change;
      if (place !== undefined) setPlace(profile, key, place);
    }
  }
}

function profileOfScenario(root: Tree, path: string): MonitorProfile {
  const given = root["profile"];
  const changes = root["profile changes"];
  const isMap = typeof given === "object" && given !== null && !Array.isArray(given);
  if (typeof given !== "string" && !isMap) {
    const message = "profile must be a file name or a whole profile";
    throw new InputError({ ...placeOf(root, ["profile"]), message });
  }
  let tree: Tree;
  if (typeof given === "string") {
    const file = resolve(dirname(path), given);
    const shown = relative(process.cwd(), file) || file;
    try {
      tree = parseYaml(shown.startsWith("..") ? file : shown, readSmallFile(file));
    } catch (error) {
      if (!(error instanceof InputError) || error.line > 0) throw error;
      const message = `profile "${given}" ${error.complaints[0]!.message}`;
      throw new InputError({ ...placeOf(root, ["profile"]), message });
    }
  } else {
    tree = given as Tree;
  }
  if (typeof changes === "object" && changes !== null && !Array.isArray(changes)) {
    applyChanges(tree, changes as Tree);
  }
  return profileOfTree(tree);
}

function buildShafts(context: SceneContext, written: WrittenScenario): ShaftMotion[] {
  const { complaints, profile } = context;
  const names = profile.shafts.map((shaft) => shaft.name);
  if (written.speed !== undefined && names.length > 1) {
    complaints.field(
      ["speed"],
      `is for a profile with one shaft; use shafts (${names.join(", ")})`,
    );
  }
  for (const name of Object.keys(written.shafts ?? {})) {
    if (names.includes(name)) continue;
    complaints.whole(["shafts", name], `the profile has no shaft "${name}"`, true);
  }
  return profile.shafts.map((shaft) => {
    const own = written.shafts?.[shaft.name];
    if (own !== undefined && written.speed !== undefined && names.length === 1) {
      complaints.field(["speed"], `contradicts shafts: state the speed once`);
    }
    const base = ["shafts", shaft.name];
    if (own !== undefined) {
      return buildShaftMotion(context, shaft, own, base, [...base, "speed"]);
    }
    if (written.speed === undefined) {
      complaints.whole(["shafts"], `speed of shaft "${shaft.name}" is missing`, true);
    }
    const still = { speed: written.speed ?? [{ start: 0 }], faults: [] };
    const motion = { ...still, "start angle": 0, "torsional ripple": [] };
    return buildShaftMotion(context, shaft, motion, base, ["speed"]);
  });
}

function buildChannels(context: SceneContext, written: WrittenScenario): ChannelSignal[] {
  const { complaints, profile } = context;
  const names = profile.channels.map((channel) => channel.name);
  if (written.vibration !== undefined && (names.length > 1 || written.channels !== undefined)) {
    const what =
      names.length > 1
        ? `is for a profile with one channel; use channels (${names.join(", ")})`
        : "contradicts channels: state the vibration there";
    complaints.field(["vibration"], what);
  }
  for (const name of Object.keys(written.channels ?? {})) {
    if (names.includes(name)) continue;
    complaints.whole(["channels", name], `the profile has no channel "${name}"`, true);
  }
  return profile.channels.map((channel) => {
    const base = ["channels", channel.name];
    const own = written.channels?.[channel.name];
    if (own === undefined && written.vibration !== undefined && names.length === 1) {
      const short = { vibration: written.vibration, faults: [] };
      return buildChannelSignal(context, channel, short, base, ["vibration"]);
    }
    return buildChannelSignal(context, channel, own, base, [...base, "vibration"]);
  });
}

function buildScene(root: Tree, path: string, name: string, options: ScenarioOptions): Scene {
  const profile = profileOfScenario(root, path);
  const written = parseLocated(schemaFor(profile.timeUnit), root as Container);
  const complaints = new Complaints(root);
  const warnings = new Complaints(root);
  const context: SceneContext = {
    complaints,
    warnings,
    profile,
    durationS: written.duration,
    speedMostRevPerS: [],
  };
  if (written.duration <= profile.displayPeriodS) {
    const unit = profile.timeUnit === "s" ? "s" : "samples";
    const [period, found] = [profile.displayPeriodS, written.duration].map((value) => {
      return `${Number(value.toPrecision(6))} ${unit}`;
    });
    complaints.field(
      ["duration"],
      `must be longer than the display period, ${period}; found ${found}`,
    );
  }
  const scene: Scene = {
    name,
    question: written.question,
    ...(written.see === undefined ? {} : { see: written.see }),
    requirements: written.requirements,
    profile,
    durationS: written.duration,
    seed: caseSeed(name, written.seed ?? options.seed ?? USER_SEED),
    shafts: buildShafts(context, written),
    channels: buildChannels(context, written),
    inputs: buildInputs(context, written.inputs),
    expectation: buildExpectation(context, written.expect),
  };
  complaints.finish();
  for (const warning of warnings.list) options.onWarning?.(warning);
  return scene;
}

/** A scenario file's path from `root`, with / and without its ending. */
export function scenarioName(path: string, root?: string): string {
  const from = relative(root ?? dirname(path), path)
    .split(sep)
    .join("/");
  return from.replace(/\.scenario\.ya?ml$|\.ya?ml$/u, "");
}

/** Scenes from a text; `path` names it in complaints and is where its profile is looked for. */
export function parseScenario(path: string, text: string, options: ScenarioOptions = {}): Scene[] {
  const root = parseYaml(path, text);
  if (Object.hasOwn(root, "monitor") && !Object.hasOwn(root, "question")) {
    const message = "is a profile (monitor: …), a scenario (question: …) is expected";
    throw new InputError({ file: path, line: 1, column: 1, message });
  }
  const base = scenarioName(path, options.root);
  const scenes: Scene[] = [];
  for (const row of caseRows(root)) {
    const name = row.label === "" ? base : `${base}[${row.label}]`;
    if (options.only !== undefined && !name.includes(options.only)) continue;
    scenes.push(buildScene(fillCase(root, row), path, name, options));
  }
  return scenes;
}

/**
 * The scenes of a scenario file.
 *
 * Errors    InputError with every complaint of the first case that has any
 */
export function readScenarioFile(path: string, options: ScenarioOptions = {}): Scene[] {
  return parseScenario(path, readSmallFile(path), options);
}
