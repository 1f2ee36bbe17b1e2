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
  import("./program.ts")
    .then(function (program) {
      return program.main(process.argv);
    })
    .catch(function (error) {
      process.stderr.write("amberline could not start: " + String(error) + "\n");
      process.exitCode = 3;
    });
}
