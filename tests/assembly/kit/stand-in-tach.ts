// @ts-nocheck AssemblyScript: stands in for assembly/tach.ts where a test says what a shaft does.
// Per shaft 16 bytes, as tests/assembly/kit/step-stage.ts writes them.
const TABLE: usize = memory.data(32, 16);

export function tachAddress(shaft: i32): usize {
  return TABLE + (<usize>shaft << 4);
}
export function tachIsLocked(shaft: i32): bool {
  return load<u32>(tachAddress(shaft), 0) != 0;
}
export function tachHasBeenLocked(shaft: i32): bool {
  return load<u32>(tachAddress(shaft), 4) != 0;
}
export function tachIsPhaseRelative(shaft: i32): bool {
  return load<u32>(tachAddress(shaft), 8) != 0;
}
export function tachSpeedNow(shaft: i32): f32 {
  return load<f32>(tachAddress(shaft), 12);
}
