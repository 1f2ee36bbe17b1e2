// One straight line: a block is checked whole, its samples go to the pool, and then edges, samples
// and display steps are taken in the order of their time. Nothing depends on where a block ends, so
// any split of the input gives the same bytes:
//   an edge at tick t sees the samples of index <= floor(t/R) and the knot intervals complete with
//   them; of two edges at one tick shaft 0's comes first; a step at sample i·D sees the samples up
//   to that one and the edges up to its tick.
import {
  BLOCK_EDGES_MAX, BLOCK_SAMPLES_MAX, BLOCK_STEPS_MAX, SHAFTS_MAX,
} from "../shared/capacity.ts";
import * as L from "../shared/layout.ts";
import * as STATUS from "../shared/status.ts";
import { FORMAT_F32, FORMAT_I16 } from "../shared/units.ts";
import {
  angleConfigure, angleIsReady, angleProcess, angleReset, angleSampleNeeded,
} from "./angle.ts";
import { COUNTERS, INPUT, configGlobal, counterAdd, memoryReset } from "./memory.ts";
import {
  poolAddress, poolAdvance, poolMakeRoom, poolPutCounts, poolPutFloats, poolReset, poolStart,
} from "./pool.ts";
import { recordsReset } from "./records.ts";
import { healthIntake, inputsSet, stepEmit, stepReset, stepShown } from "./step.ts";
import { tachExpire, tachProcess, tachReset } from "./tach.ts";
import { tachRun } from "./tach-run.ts";
import { toneIsOn, toneProcess, toneReset, toneSet } from "./tone.ts";
import { trackerConfigure, trackerReset } from "./tracker.ts";

/** High word of a first sample: 2⁴⁴ samples of at most 2¹⁸ ticks leave as many more within 64 bits. */
const FIRST_HIGH_MAX: u32 = 0xfff;

let isConfigured: bool = false;
let channels: i32 = 0;
let shafts: i32 = 0;
let filters: i32 = 0;
let displaySamples: u64 = 1;
let ticksPerSample: u64 = 1;

// Where the stream stands.
let hasStarted: bool = false;
let isOfLevels: bool = false; // recorded levels came in place of blocks
let nextSample: u64 = 0;
let nextStepSample: u64 = 0;

// The block in hand.
let blockSample: u64 = 0;
let blockTick: u64 = 0;
let blockCount: i32 = 0;
let edgeAt0: usize = 0;
let edgeAt1: usize = 0;
let edgeEnd0: usize = 0;
let edgeEnd1: usize = 0;

/** Takes the active configuration, which was checked; everything before is forgotten. */
export function pipelineConfigure(): void {
  const global = configGlobal();
  channels = load<i32>(global + L.GLOBAL_CHANNEL_COUNT);
  shafts = load<i32>(global + L.GLOBAL_SHAFT_COUNT);
  filters = load<i32>(global + L.GLOBAL_FILTER_COUNT);
  displaySamples = <u64>load<u32>(global + L.GLOBAL_DISPLAY_SAMPLES);
  ticksPerSample = <u64>load<u32>(global + L.GLOBAL_TICKS_PER_SAMPLE);
  memoryReset();
  for (let shaft: i32 = 0; shaft < shafts; shaft++) angleConfigure(shaft);
  for (let filter: i32 = 0; filter < filters; filter++) trackerConfigure(filter);
  isConfigured = true;
  pipelineReset();
}

/** Back to the state just after configure: no stream, counters and records empty. */
export function pipelineReset(): void {
  if (!isConfigured) return;
  memory.fill(COUNTERS, 0, L.COUNTERS_BYTES);
  poolReset(channels);
  recordsReset();
  for (let shaft: i32 = 0; shaft < shafts; shaft++) {
    tachReset(shaft);
    angleReset(shaft);
  }
  for (let filter: i32 = 0; filter < filters; filter++) trackerReset(filter);
  stepReset();
  toneReset();
  hasStarted = false;
  isOfLevels = false;
  nextSample = 0;
  nextStepSample = 0;
}

/** Takes the block at INPUT; a status other than OK means that nothing of it was used. */
export function pipelineProcess(): i32 {
  if (!isConfigured) return STATUS.ERR_NOT_CONFIGURED;
  const status = blockCheck();
  if (status != STATUS.OK) {
    counterAdd(L.COUNTER_REFUSED_BLOCKS, 1);
    return status;
  }
  streamAdvance();
  samplesTake();
  const inputs = load<u32>(INPUT + L.BLOCK_INPUTS);
  inputsSet(inputs);
  toneSet((inputs >> L.INPUT_TEST & 1) != 0, blockSample);
  const blockEnd: u64 = blockSample + <u64>blockCount;
  let from: u64 = blockSample;
  let isStep = false;
  // Bounded: each turn but the last ends at a display step, of which a block holds few.
  while (from < blockEnd) {
    isStep = nextStepSample < blockEnd;
    const end: u64 = isStep ? nextStepSample + 1 : blockEnd;
    const tick: u64 = (isStep ? nextStepSample : blockEnd) * ticksPerSample;
    spanTake(from, end, tick);
    if (isStep) {
      for (let shaft: i32 = 0; shaft < shafts; shaft++) tachExpire(shaft, tick);
      stepEmit(tick);
      nextStepSample += displaySamples;
    }
    from = end;
  }
  // A step at the block's last sample has left the edges behind that sample.
  if (isStep) {
    edgesTake(blockEnd * ticksPerSample);
    for (let shaft: i32 = 0; shaft < shafts; shaft++) angleProcess(shaft, blockEnd);
  }
  return STATUS.OK;
}

// --- the block rule

function blockCheck(): i32 {
  if (isOfLevels) return STATUS.ERR_STREAM_KIND;
  if (load<u32>(INPUT + L.BLOCK_LAYOUT) != L.LAYOUT_VERSION) return STATUS.ERR_BLOCK_LAYOUT;
  const format = load<i32>(INPUT + L.BLOCK_FORMAT);
  if (format != FORMAT_F32 && format != FORMAT_I16) return STATUS.ERR_BLOCK_FORMAT;
  const count = load<i32>(INPUT + L.BLOCK_SAMPLE_COUNT);
  if (count < 1 || count > BLOCK_SAMPLES_MAX) return STATUS.ERR_BLOCK_SAMPLES;
  const edges0 = load<i32>(INPUT + L.BLOCK_EDGE_COUNTS);
  const edges1 = load<i32>(INPUT + L.BLOCK_EDGE_COUNTS + 4);
  if (edges0 < 0 || edges0 > BLOCK_EDGES_MAX) return STATUS.ERR_BLOCK_EDGES;
  if (edges1 < 0 || edges1 > BLOCK_EDGES_MAX) return STATUS.ERR_BLOCK_EDGES;
  if (shafts < SHAFTS_MAX && edges1 != 0) return STATUS.ERR_BLOCK_EDGES;
  const high = load<u32>(INPUT + L.BLOCK_FIRST_HIGH);
  const first: u64 = (<u64>high << 32) | <u64>load<u32>(INPUT + L.BLOCK_FIRST_LOW);
  if (hasStarted ? first != nextSample : high > FIRST_HIGH_MAX) return STATUS.ERR_BLOCK_GAP;
  blockSample = first;
  blockTick = first * ticksPerSample;
  blockCount = count;
  const bytes = samplesBytes(blockCount, format == FORMAT_F32);
  edgeAt0 = INPUT + L.BLOCK_HEADER_BYTES + channels * bytes;
  edgeEnd0 = edgeAt0 + 4 * edges0;
  edgeAt1 = edgeEnd0;
  edgeEnd1 = edgeAt1 + 4 * edges1;
  const status = edgesCheck(edgeAt0, edgeEnd0);
  if (status != STATUS.OK) return status;
  const status1 = edgesCheck(edgeAt1, edgeEnd1);
  if (status1 != STATUS.OK) return status1;
  const step: u64 = hasStarted ? nextStepSample : firstStep(first);
  const isOver = step + <u64>BLOCK_STEPS_MAX * displaySamples < first + <u64>count;
  return isOver ? STATUS.ERR_BLOCK_STEPS : STATUS.OK;
}

/** The first display step at or after a sample; sample 0 is none. */
function firstStep(sample: u64): u64 {
  const step: u64 = (sample + displaySamples - 1) / displaySamples;
  return (step == 0 ? 1 : step) * displaySamples;
}

/**
 * Bytes that the block at INPUT has by its own counts and the active configuration; −1 where there
 * is none, or layout, format or a count is one that the block rule refuses.
 */
export function pipelineBlockBytes(): i32 {
  if (!isConfigured || load<u32>(INPUT + L.BLOCK_LAYOUT) != L.LAYOUT_VERSION) return -1;
  const format = load<i32>(INPUT + L.BLOCK_FORMAT);
  if (format != FORMAT_F32 && format != FORMAT_I16) return -1;
  const count = load<i32>(INPUT + L.BLOCK_SAMPLE_COUNT);
  const edges0 = load<i32>(INPUT + L.BLOCK_EDGE_COUNTS);
  const edges1 = load<i32>(INPUT + L.BLOCK_EDGE_COUNTS + 4);
  if (<u32>count > <u32>BLOCK_SAMPLES_MAX) return -1;
  if (<u32>edges0 > <u32>BLOCK_EDGES_MAX || <u32>edges1 > <u32>BLOCK_EDGES_MAX) return -1;
  const isFloat = format == FORMAT_F32;
  return L.BLOCK_HEADER_BYTES + channels * samplesBytes(count, isFloat) + 4 * (edges0 + edges1);
}

/** Bytes of a channel's samples in a block, padded to whole words. */
function samplesBytes(count: i32, isFloat: bool): i32 {
  return isFloat ? 4 * count : (2 * count + 3) & ~3;
}

/** The first sample that was not taken yet. */
export function pipelineNextSample(): u64 {
  return nextSample;
}

/** Edges as low words must lie in the block and not descend. */
function edgesCheck(from: usize, end: usize): i32 {
  const ticks = <u32>blockCount * <u32>ticksPerSample;
  let before: u32 = 0;
  for (let at = from; at < end; at += 4) {
    const offset = edgeOffset(at);
    if (offset >= ticks) return STATUS.ERR_EDGE_OUTSIDE;
    if (offset < before) return STATUS.ERR_EDGE_ORDER;
    before = offset;
  }
  return STATUS.OK;
}

// --- intake

function streamAdvance(): void {
  if (!hasStarted) {
    hasStarted = true;
    poolStart(blockSample);
    nextSample = blockSample;
    nextStepSample = firstStep(blockSample);
  }
  nextSample += <u64>blockCount;
  counterAdd(L.COUNTER_BLOCKS, 1);
  const samples: u64 = load<u64>(COUNTERS + L.COUNTER_SAMPLES_LOW) + <u64>blockCount;
  store<u64>(COUNTERS + L.COUNTER_SAMPLES_LOW, samples);
}

function samplesTake(): void {
  let needed: u64 = u64.MAX_VALUE;
  for (let shaft: i32 = 0; shaft < shafts; shaft++) {
    needed = min<u64>(needed, angleSampleNeeded(shaft));
  }
  poolMakeRoom(blockCount, needed);
  let from = INPUT + L.BLOCK_HEADER_BYTES;
  const isFloat = load<i32>(INPUT + L.BLOCK_FORMAT) == FORMAT_F32;
  for (let channel: i32 = 0; channel < channels; channel++) {
    if (isFloat) poolPutFloats(channel, from, blockCount);
    else poolPutCounts(channel, from, blockCount);
    from += samplesBytes(blockCount, isFloat);
  }
  poolAdvance(blockCount);
}

// --- the order of time

/** Takes samples [from, end) and every edge up to `tick`. */
function spanTake(from: u64, end: u64, tick: u64): void {
  edgesTake(tick);
  toneProcess(end);
  const isCounts: bool = load<i32>(INPUT + L.BLOCK_FORMAT) == FORMAT_I16;
  for (let channel: i32 = 0; channel < channels; channel++) {
    healthIntake(channel, poolAddress(channel, from), <i32>(end - from), isCounts);
  }
  for (let shaft: i32 = 0; shaft < shafts; shaft++) angleProcess(shaft, end);
}

/** Takes the edges of both shafts up to `tick`, merged by time. */
function edgesTake(tick: u64): void {
  if (edgeAt0 >= edgeEnd0 && edgeAt1 >= edgeEnd1) return;
  // A block's ticks are few: as offsets they need no 64 bits. No step lies before the block.
  assert(tick >= blockTick);
  const last = <u32>(tick - blockTick);
  // Bounded by the block's edges: each turn takes one at least.
  while (true) {
    const offset0 = edgeAt0 < edgeEnd0 ? edgeOffset(edgeAt0) : u32.MAX_VALUE;
    const offset1 = edgeAt1 < edgeEnd1 ? edgeOffset(edgeAt1) : u32.MAX_VALUE;
    const isFirst = offset0 <= offset1;
    const offset = isFirst ? offset0 : offset1;
    if (offset > last) return;
    const next: u64 = blockTick + <u64>offset;
    const shaft: i32 = isFirst ? 0 : 1;
    const at = isFirst ? edgeAt0 : edgeAt1;
    const after = tachRun(shaft, next, at, isFirst ? edgeEnd0 : edgeEnd1, last - offset);
    if (isFirst) edgeAt0 = max<usize>(after, at + 4);
    else edgeAt1 = max<usize>(after, at + 4);
    if (after > at) continue;
    // Few edges find something to do: the others are spared the division.
    if (toneIsOn() || angleIsReady(shaft, next)) {
      const samplesEnd: u64 = blockSample + <u64>(offset / <u32>ticksPerSample) + 1;
      toneProcess(samplesEnd);
      angleProcess(shaft, samplesEnd);
    }
    tachProcess(shaft, next);
  }
}

/** Ticks from the block's first to an edge: by difference, so a wrap is harmless. */
function edgeOffset(at: usize): u32 {
  return load<u32>(at) - <u32>blockTick;
}

/**
 * Takes a number that was shown elsewhere into one display's caution stage, in place of a block.
 *
 * Shape     display 0 … filter count − 1; counts of its step; tick of the display step
 * Errors    ERR_NOT_CONFIGURED, ERR_CONFIG_REFERENCE where there is no such display
 */
export function pipelineShown(display: i32, counts: i32, tick: u64): i32 {
  if (!isConfigured) return STATUS.ERR_NOT_CONFIGURED;
  if (<u32>display >= <u32>filters) return STATUS.ERR_CONFIG_REFERENCE;
  if (hasStarted) return STATUS.ERR_STREAM_KIND;
  isOfLevels = true;
  stepShown(display, counts, tick);
  return STATUS.OK;
}
