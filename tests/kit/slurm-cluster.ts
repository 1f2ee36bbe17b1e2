// A Slurm cluster of one node of its own: its key, ports, state and logs lie in one folder and end with
// it. It needs Debian's slurm-wlm and munge, and root, as which a container runs.
import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { randomBytes } from "node:crypto";
import { chmodSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { createServer } from "node:net";
import { cpus, hostname } from "node:os";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { systemCommand } from "./system-package.ts";

const START_MS = 60_000;

/** A port that nobody listens at now. */
async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as { port: number };
  await new Promise((resolve) => server.close(resolve));
  return port;
}

function settings(folder: string, node: string, ports: [number, number]): string {
  const at = (name: string): string => join(folder, name);
  return `ClusterName=one
SlurmctldHost=${node}(127.0.0.1)
SlurmUser=root
SlurmdUser=root
AuthType=auth/munge
AuthInfo=socket=${at("munge.sock")}
SlurmctldPort=${ports[0]}
SlurmdPort=${ports[1]}
SlurmctldPidFile=${at("slurmctld.pid")}
SlurmdPidFile=${at("slurmd.pid")}
StateSaveLocation=${at("state")}
SlurmdSpoolDir=${at("spool")}
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
MpiDefault=none
ReturnToService=2
NodeName=${node} NodeAddr=127.0.0.1 CPUs=${cpus().length} State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES State=UP
`;
}

export class SlurmCluster {
  readonly #folder: string;
  readonly #daemons: ChildProcess[] = [];
  readonly #said: string[] = [];

  constructor(folder: string) {
    this.#folder = folder;
  }

  /** Whether the programs are there; told, or an error, where they are not. */
  static isThere(): boolean {
    const commands = [
      ["slurmctld", "slurm-wlm"],
      ["slurmd", "slurm-wlm"],
      ["sbatch", "slurm-wlm"],
      ["munged", "munge"],
    ] as const;
    return commands.every(([name, from]) => systemCommand(name, from) !== undefined);
  }

  get #environment(): NodeJS.ProcessEnv {
    return { ...process.env, SLURM_CONF: join(this.#folder, "slurm.conf") };
  }

  #daemon(command: string, args: string[]): void {
    const child = spawn(command, args, {
      env: this.#environment,
      stdio: ["ignore", "pipe", "pipe"],
    });
    for (const stream of [child.stdout, child.stderr]) {
      stream.on("data", (piece: Buffer) => this.#said.push(piece.toString()));
    }
    child.on("error", (error) => this.#said.push(error.message));
    this.#daemons.push(child);
  }

  /** Starts the daemons and waits until the node is idle. Errors: what they said instead. */
  async start(): Promise<void> {
    const at = (name: string): string => join(this.#folder, name);
    chmodSync(this.#folder, 0o755);
    mkdirSync(at("state"));
    mkdirSync(at("spool"));
    writeFileSync(at("munge.key"), randomBytes(1024), { mode: 0o600 });
    const node = hostname().split(".")[0]!;
    const ports: [number, number] = [await freePort(), await freePort()];
    writeFileSync(at("slurm.conf"), settings(this.#folder, node, ports));
    this.#daemon("munged", [
      "--foreground",
      "--force",
      `--key-file=${at("munge.key")}`,
      `--socket=${at("munge.sock")}`,
      `--pid-file=${at("munged.pid")}`,
      `--log-file=${at("munged.log")}`,
      `--seed-file=${at("munge.seed")}`,
    ]);
    await pause(500);
    this.#daemon("slurmctld", ["-D"]);
    await pause(500);
    this.#daemon("slurmd", ["-D"]);
    const until = Date.now() + START_MS;
    while (Date.now() < until) {
      const { stdout } = this.command("sinfo", ["--noheader", "--format=%T"]);
      if (stdout.trim() === "idle") return;
      // oxlint-disable-next-line no-await-in-loop -- asked again until it is there
      await pause(500);
    }
    throw new Error(`the node did not come up: ${this.#said.join("").slice(-2000)}`);
  }

  /** One of Slurm's own commands against this cluster. */
  command(name: string, args: string[], env: Record<string, string> = {}) {
    return spawnSync(name, args, { encoding: "utf8", env: { ...this.#environment, ...env } });
  }

  /** The output of the array's jobs, for a message. */
  outputs(pattern: RegExp, names: readonly string[]): string {
    const wanted = names.filter((name) => pattern.test(name));
    return wanted.map((name) => readFileSync(join(this.#folder, name), "utf8")).join("\n");
  }

  async stop(): Promise<void> {
    for (const child of this.#daemons.toReversed()) {
      if (child.exitCode !== null || child.pid === undefined) continue;
      const ended = new Promise((resolve) => child.once("exit", resolve));
      child.kill("SIGTERM");
      const late = setTimeout(() => child.kill("SIGKILL"), 5000);
      // oxlint-disable-next-line no-await-in-loop -- one after another: each needs those before it
      await ended;
      clearTimeout(late);
    }
  }
}
