// What the side file says of a stimulus that was measured and written.
import { basename } from "node:path";
import { packageVersion } from "../../host/package-root.ts";
import type { Scene } from "../scene/scene.ts";
import { instant } from "./expected.ts";
import { roundingV } from "./frame-writer.ts";
import type { Measured } from "./measuring.ts";
import type {
  ChannelFacts,
  FileFacts,
  FilterFacts,
  InputFacts,
  SideFacts,
  TachometerFacts,
} from "./side-facts.ts";
import type { StimulusJob } from "./stimulus-job.ts";
import type { StimulusPlan } from "./stimulus-plan.ts";

function channelFacts(job: StimulusJob, { gauges, layout }: Measured): ChannelFacts[] {
  return job.scene.profile.channels.map((channel, column) => {
    const gauge = gauges[column]!;
    return {
      column: column + 1,
      name: channel.name,
      transducer: channel.kind,
      quantity: channel.quantity,
      voltsPerSiUnit: job.voltsPerUnit[column]!,
      oneVoltIs: job.oneVoltIs[column]!,
      peakV: gauge.peak,
      peakAtS: (gauge.peakSample - layout.zeroSample) / layout.sampleRateHz,
      rmsV: gauge.scenarioRms,
      fileRmsV: gauge.fileRms,
    };
  });
}

function tachometerFacts(job: StimulusJob, measured: Measured): TachometerFacts[] {
  const { scene, pulseV, pulseWidthS, format, fullScaleV } = job;
  const { profile } = scene;
  const slopeVPerS = (pulseV / 2) * measured.layout.sampleRateHz;
  return profile.shafts.map((shaft, i) => {
    const column = profile.channels.length + i;
    const gauge = measured.gauges[column]!;
    return {
      column: column + 1,
      name: shaft.name,
      pulseV,
      pulseWidthS,
      edgeAtV: pulseV / 2,
      slope: "rising",
      edgeCount: measured.edgeCounts[i]!,
      peakV: gauge.peak,
      rmsV: gauge.scenarioRms,
      fileRmsV: gauge.fileRms,
      edgeUncertaintyS: 1 / profile.clockHz + roundingV(format, fullScaleV) / slopeVPerS,
    };
  });
}

function filterFacts({ profile }: Scene): FilterFacts[] {
  return profile.filters.map((filter) => ({
    name: filter.name,
    channel: profile.channels[filter.channel]!.name,
    shaft: profile.shafts[filter.shaft]!.name,
    order: filter.order,
    level: `${filter.unit} ${filter.detector}`,
  }));
}

function fileFacts(job: StimulusJob, plan: StimulusPlan, measured: Measured): FileFacts {
  const { layout, parts } = measured;
  return {
    name: basename(job.path),
    format: job.format,
    sha256: "",
    sampleRateHz: layout.sampleRateHz,
    samplesForOne: job.times,
    sampleCount: layout.sampleCount,
    fullScaleV: job.fullScaleV,
    roundingV: roundingV(job.format, job.fullScaleV),
    rampS: plan.rampUpS,
    holdSample: parts.holdSample,
    holdS: plan.holdS,
    zeroSample: parts.zeroSample,
    scenarioS: (parts.endSample - parts.zeroSample) / layout.sampleRateHz,
    endSample: parts.endSample,
    rampDownS: plan.rampDownS,
  };
}

/** The rows at which something changes; times count from the scenario's time 0. */
function inputFacts({ judged, rampUpS, holdS }: StimulusPlan): InputFacts[] {
  const rows: InputFacts[] = [];
  for (const { timeS, ...bits } of judged.inputs) {
    const last = rows.at(-1);
    const isSame =
      last !== undefined &&
      bits.inhibit === last.inhibit &&
      bits.acknowledge === last.acknowledge &&
      bits.running === last.running &&
      bits.test === last.test;
    if (!isSame) rows.push({ timeS: instant(timeS - rampUpS - holdS), ...bits });
  }
  return rows;
}

export function factsOf(
  job: StimulusJob,
  plan: StimulusPlan,
  measured: Measured,
  { sha256, truthFromS }: { sha256: string; truthFromS: number },
): SideFacts {
  const { scene, limits } = job;
  return {
    amberline: packageVersion(),
    scenario: { name: scene.name, question: scene.question, seed: scene.seed },
    file: { ...fileFacts(job, plan, measured), sha256 },
    limits,
    channels: channelFacts(job, measured),
    tachometers: tachometerFacts(job, measured),
    filters: filterFacts(scene),
    inputs: inputFacts(plan),
    truthFromS,
  };
}
