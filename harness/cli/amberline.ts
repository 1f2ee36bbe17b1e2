#!/usr/bin/env node
// The command. It must be read by a Node that is too old for the rest, so that such a Node gets a
// sentence in place of a stack trace: no syntax newer than 2019 here, and nothing imported at once.

const NEEDED = [20, 19];

const found = process.versions.node.split(".").map(Number);
const major = found[0] || 0;
const minor = found[1] || 0;

if (major < NEEDED[0]! || (major === NEEDED[0] && minor < NEEDED[1]!)) {
  process.stderr.write(
    "amberline needs Node " + NEEDED.join(".") + " or later; this is " + process.version + ".\n",
  );
  process.exitCode = 2;
} else {
  // What follows is read from the disk before it can say anything: on a terminal, a word at once.
  const command = process.argv[2];
  const isLong = command === "run" || command === "demo";
  const isQuiet = process.argv.some(function (word) {
    return word === "--json" || word === "--help" || word === "-h";
  });
  if (process.stderr.isTTY && isLong && !isQuiet) {
    process.stderr.write("Reading the program and the scenarios …\n");
  }
  import("./program.ts")
    .then(function (program) {
      return program.main(process.argv).then(program.endLeftOpen);
    })
    .catch(function (error) {
      process.stderr.write("amberline could not start: " + String(error) + "\n");
      process.exitCode = 3;
    });
}
