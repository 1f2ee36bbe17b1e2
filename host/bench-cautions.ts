// Said once before the first byte goes to a port: what is connected there can be damaged, and people
// can be hurt.
export const BENCH_CAUTIONS: readonly string[] = [
  "Bench equipment only: never a system that is installed in an aircraft.",
  "A generator can damage an input that expects a charge or powers its transducer.",
  "Isolate the box by approved means.",
  "Check the tachometer's level and coupling before it is connected.",
  "Never put words with normal-operation status onto an aircraft bus.",
  "Where the equipment's manual says otherwise, the manual rules.",
];
