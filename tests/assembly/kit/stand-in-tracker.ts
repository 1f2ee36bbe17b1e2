// @ts-nocheck AssemblyScript: stands in for assembly/tracker.ts where a test says what was tracked.
// Per filter 64 bytes, as tests/assembly/kit/step-stage.ts writes them.
const TABLE: usize = memory.data(512, 16);

export const SETTLING_TAUS: f32 = 6.64;

export function trackerAddress(filter: i32): usize {
  return TABLE + (<usize>filter << 6);
}
export function trackerIsComputed(filter: i32): bool {
  return load<u32>(trackerAddress(filter), 0) != 0;
}
export function trackerIsSettled(filter: i32): bool {
  return trackerIsComputed(filter) && load<u32>(trackerAddress(filter), 4) != 0;
}
export function trackerRe(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 8);
}
export function trackerIm(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 12);
}
export function trackerLevelPk(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 16);
}
export function trackerSpeed(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 20);
}
export function trackerSpeedNow(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 24);
}
export function trackerRevolution(filter: i32): u32 {
  return load<u32>(trackerAddress(filter), 28);
}
export function trackerClosingTick(filter: i32): u64 {
  return <u64>load<u32>(trackerAddress(filter), 32);
}
export function trackerFlags(filter: i32): u32 {
  return load<u32>(trackerAddress(filter), 36);
}
export function trackerIntegrationDistance(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 40);
}
export function trackerResponseIsLow(filter: i32): bool {
  return load<u32>(trackerAddress(filter), 44) != 0;
}
export function trackerAcquisition(filter: i32): u32 {
  return load<u32>(trackerAddress(filter), 52);
}
export function trackerRawPk(filter: i32): f32 {
  return load<f32>(trackerAddress(filter), 48);
}
