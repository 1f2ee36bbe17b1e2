// Small recordings as bytes, for tests that break them.

export const RATE_HZ = 2000;
export const SPEED = 20;

/** A whole-number WAV of one channel: a tone at SPEED, a quarter of full scale. */
export function toneWav(sampleCount: number, stated = sampleCount): Buffer {
  const bytes = Buffer.alloc(44 + 2 * sampleCount);
  bytes.write("RIFF", 0, "latin1");
  bytes.writeUInt32LE(36 + 2 * sampleCount, 4);
  bytes.write("WAVEfmt ", 8, "latin1");
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(RATE_HZ, 24);
  bytes.writeUInt32LE(2 * RATE_HZ, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write("data", 36, "latin1");
  bytes.writeUInt32LE(2 * stated, 40);
  for (let i = 0; i < sampleCount; i += 1) {
    bytes.writeInt16LE(
      Math.round(8192 * Math.cos((2 * Math.PI * SPEED * i) / RATE_HZ)),
      44 + 2 * i,
    );
  }
  return bytes;
}

/** Rows of a CSV: header, then time, a tone of 3 pk, a square tachometer. */
export function toneRows(sampleCount: number): string[] {
  const rows = ["time,a,tach"];
  for (let i = 0; i < sampleCount; i += 1) {
    const a = 3 * Math.cos((2 * Math.PI * SPEED * i) / RATE_HZ);
    const tach = i % (RATE_HZ / SPEED) < 50 ? 1 : -1;
    rows.push(`${(i / RATE_HZ).toFixed(4)},${a.toFixed(5)},${tach}`);
  }
  return rows;
}
