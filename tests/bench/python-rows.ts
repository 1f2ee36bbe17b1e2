// The same work in Python, the user's usual way, beside the core: time and accuracy of both.
import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { findCommand } from "../../host/board/tools.ts";
import { configurationBytes } from "../../host/profile/configuration.ts";
import { builtInCore } from "../../host/built-in-core.ts";
import { decodeRecords } from "../../host/records.ts";
import type { Scene } from "../../harness/scene/scene.ts";
import { makeWaveform } from "../../harness/waveform/waveform.ts";
import {
  channelProfile,
  channelSignal,
  filterProfile,
  monitorProfile,
  orderComponent,
  scene,
  shaftProfile,
} from "../kit/scene-builder.ts";
import { ROOT } from "../repo/source-files.ts";
import { hashOf, round, warm } from "./core-rows.ts";
import { type Spread, scaled, spreadOf } from "./timing.ts";
import { blocksOfScene } from "./works.ts";

const RATE_HZ = 12_800;
const DURATION_S = 40;
const BANDWIDTH_HZ = 1;
/** The tracked component, m/s² pk, which the level reads; companions are ten times as large. */
const TRACKED_PK = 1;

export interface RouteRow {
  route: string;
  nsPerFilterSample: Spread;
  /** Worst of order 1 over the second half, % of the known level. */
  errorPercent: number;
  hash: string;
}

export interface RouteResult {
  work: string;
  rows: RouteRow[];
}

/** A dwell with company at orders 2 and 3, ten times as large, as the accuracy figure has it. */
function dwell(channels: number, orders: number): Scene {
  const each = Array.from({ length: channels }, (_, i) => i);
  const profile = monitorProfile({
    sampleRateHz: RATE_HZ,
    channels: each.map(() => channelProfile({ health: { steps: 10 } })),
    shafts: [shaftProfile({ timeoutS: 0.08, speedMinRevPerS: 40, validSpeedRevPerS: 40 })],
    filters: each.flatMap((channel) =>
      Array.from({ length: orders }, (_, i) =>
        filterProfile({
          channel,
          order: i + 1,
          quantity: "acceleration",
          levelFactor: 1,
          bandwidth: { kind: "fixed", fullWidthHz: BANDWIDTH_HZ },
        }),
      ),
    ),
  });
  const made = scene({
    name: `${channels} × ${orders}`,
    durationS: DURATION_S,
    profile,
    channels: each.map(() =>
      channelSignal([
        orderComponent(1, TRACKED_PK, 30),
        orderComponent(2, 10 * TRACKED_PK, 77),
        orderComponent(3, 10 * TRACKED_PK, 11),
      ]),
    ),
  });
  made.shafts[0]!.speed = [{ timeS: 0, revPerS: 81.3 }];
  return made;
}

/** The waveform whole: f32 of each channel, edges in seconds. */
function whole(made: Scene): { samples: Float32Array[]; edgesS: number[] } {
  const waveform = makeWaveform(made);
  const count = waveform.sampleCount;
  const samples = made.channels.map(() => new Float32Array(count));
  const edgesS: number[] = [];
  for (let batch = waveform.next(65_536); batch !== undefined; batch = waveform.next(65_536)) {
    for (const [i, one] of batch.samples.entries()) samples[i]!.set(one, batch.firstSample);
    for (const tick of batch.edges[0]!) edgesS.push(tick / made.profile.clockHz);
  }
  return { samples, edgesS };
}

/** Path of Debian's Python with SciPy; undefined where there is none. */
export function pythonPath(): string | undefined {
  for (const path of ["/usr/bin/python3", findCommand("python3")]) {
    if (path === undefined) continue;
    if (spawnSync(path, ["-c", "import scipy.signal"]).status === 0) return path;
  }
  return undefined;
}

function coreRow(made: Scene, rounds: number): RouteRow {
  const filterSamples = DURATION_S * RATE_HZ * made.profile.filters.length;
  const core = builtInCore();
  const work = blocksOfScene(made);
  core.configure(configurationBytes(made.profile));
  const parts: Uint8Array[] = [];
  round(core, work, (records) => parts.push(records.slice()));
  warm(core, work);
  const times = Array.from({ length: rounds }, () => round(core, work));
  let errorPercent = 0;
  for (const record of decodeRecords(Buffer.concat(parts))) {
    if (record.kind !== "level" || record.filter !== 0) continue;
    if (record.tick < (DURATION_S / 2) * made.profile.clockHz) continue;
    errorPercent = Math.max(errorPercent, 100 * Math.abs(record.level / TRACKED_PK - 1));
  }
  const ns = scaled(spreadOf(times), 1 / filterSamples);
  return { route: "core", nsPerFilterSample: ns, errorPercent, hash: hashOf(parts) };
}

interface Told {
  seconds: number[];
  error_percent: number;
  hash: string;
}

/** Errors: throws where Python fails. */
function pythonRows(python: string, made: Scene, rounds: number): RouteRow[] {
  const folder = mkdtempSync(join(tmpdir(), "amberline-python-"));
  try {
    const { samples, edgesS } = whole(made);
    const path = join(folder, "samples.f32");
    const bytes = samples.map(({ buffer, byteOffset, byteLength }) =>
      Buffer.from(buffer, byteOffset, byteLength),
    );
    writeFileSync(path, Buffer.concat(bytes));
    const orders = made.profile.filters.filter(({ channel }) => channel === 0);
    const wish = {
      rate_hz: RATE_HZ,
      edges_s: edgesS,
      orders: orders.map(({ order }) => order),
      bandwidth_hz: BANDWIDTH_HZ,
      channels: samples.length,
      samples: path,
      truth_pk: TRACKED_PK,
      rounds,
    };
    const script = join(ROOT, "tests", "bench", "python-route.py");
    const done = spawnSync(python, [script], {
      input: JSON.stringify(wish),
      encoding: "utf8",
      env: { ...process.env, OMP_NUM_THREADS: "1", OPENBLAS_NUM_THREADS: "1" },
    });
    if (done.status !== 0) throw new Error(`Python: ${done.stderr}`);
    const told = JSON.parse(done.stdout) as Record<string, Told>;
    const filterSamples = samples[0]!.length * made.profile.filters.length;
    return Object.entries(told).map(([route, { seconds, error_percent, hash }]) => ({
      route: `Python, ${route}`,
      nsPerFilterSample: scaled(spreadOf(seconds), 1e9 / filterSamples),
      errorPercent: error_percent,
      hash,
    }));
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Core and Python on the same waveforms. Errors: throws where Python fails. */
export function routes(python: string, rounds: number): RouteResult[] {
  return [dwell(1, 1), dwell(4, 2)].map((made) => {
    const core = coreRow(made, rounds);
    return { work: made.name, rows: [core, ...pythonRows(python, made, rounds)] };
  });
}

/** How many times as fast as the fastest of the other routes. */
export function timesOfRoutes({ rows }: RouteResult): number {
  const [core, ...others] = rows;
  const times = others.map(
    ({ nsPerFilterSample }) => nsPerFilterSample.median / core!.nsPerFilterSample.median,
  );
  return Math.min(...times);
}
