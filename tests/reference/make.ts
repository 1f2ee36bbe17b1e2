// `npm run reference`: the golden values of this folder anew, from Debian's own SciPy and Octave.
// Nothing is written unless both have answered.
import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { basename, dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { findCommand } from "../../host/board/tools.ts";

const here = dirname(fileURLToPath(import.meta.url));

/** Debian's own interpreter, which sees Debian's packages; else the first on the path. */
function pythonWithSciPy(): string | undefined {
  const own = "/usr/bin/python3";
  const python = existsSync(own) ? own : findCommand("python3");
  if (python === undefined) return undefined;
  return spawnSync(python, ["-c", "import scipy"]).status === 0 ? python : undefined;
}

/** Runs a program; what it says goes on, and it must have written the file. */
function run(program: string, args: string[], output: string): void {
  const done = spawnSync(program, args, { encoding: "utf8" });
  if (done.status !== 0 || !existsSync(output)) {
    throw new Error(`${args.at(0)} wrote nothing: ${done.stderr}`);
  }
}

const python = pythonWithSciPy();
const octave = findCommand("octave-cli");
const missing = [
  ...(python === undefined ? ["python3-scipy"] : []),
  ...(octave === undefined ? ["octave"] : []),
];
if (python === undefined || octave === undefined) {
  process.stderr.write(
    `missing: ${missing.join(", ")}; on Debian: ` +
      `apt-get install --no-install-recommends ${missing.join(" ")}\n`,
  );
  process.exit(2);
}

const folder = mkdtempSync(join(tmpdir(), "reference-"));
try {
  const made = ["scipy.json", "octave.json"].map((name) => join(folder, name)) as [string, string];
  run(python, [join(here, "generate.py"), made[0]], made[0]);
  run(octave, ["--quiet", join(here, "generate.m"), ...made], made[1]);
  const kept = ["scipy.json", "octave.json"].map((name) => join(here, name));
  for (const [i, path] of kept.entries()) {
    const { by, made: day } = JSON.parse(readFileSync(made[i]!, "utf8")) as {
      by: Record<string, string>;
      made: string;
    };
    writeFileSync(path, readFileSync(made[i]!));
    const versions = Object.entries(by).map(([name, version]) => `${name} ${version}`);
    process.stdout.write(`${basename(path)}: ${day}, ${versions.join(", ")}\n`);
  }
  const require = createRequire(import.meta.url);
  const manifest = require.resolve("oxfmt/package.json");
  const { bin } = require(manifest) as { bin: Record<string, string> };
  spawnSync(process.execPath, [join(dirname(manifest), bin["oxfmt"]!), ...kept]);
} finally {
  rmSync(folder, { recursive: true });
}
