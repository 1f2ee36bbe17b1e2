// The ready files for a campaign on many machines, tried: a Slurm array on a cluster of one node, and
// the command line of a Kubernetes Indexed Job, pod by pod.
import { spawnSync } from "node:child_process";
import { chmodSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { parse } from "yaml";
import { amberlineHere } from "../../kit/amberline-here.ts";
import { SOURCE_COMMAND } from "../../kit/amberline-command.ts";
import { expectSameResults } from "../../kit/results-bytes.ts";
import { scenarioText, writeScenarios } from "../../kit/small-scenario.ts";
import { SlurmCluster } from "../../kit/slurm-cluster.ts";
import { ROOT } from "../../repo/source-files.ts";

const TIME_OUT_MS = 300_000;
const FILES = join(ROOT, "harness", "campaign");
let folder = "";
const at = (...names: string[]): string => join(folder, ...names);

/** Twelve cases of a table. */
const ROWS = Array.from({ length: 12 }, (_, i) => `  - [row ${i + 1}, ${i + 1} mil pk-pk]`);
const TABLE = `cases:\n  - [case, amplitude]\n${ROWS.join("\n")}\n`;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "amberline-campaign-"));
  const text = scenarioText({ amplitude: "$amplitude", duration: "1 s" });
  writeScenarios(folder, { table: `${text}${TABLE}` });
  const ended = await amberlineHere(["run", at("table.scenario.yaml"), "--out", at("whole")]);
  expect(ended.code).toBe(0);
});
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

/** The command of this clone, as a job calls it. */
const COMMAND = SOURCE_COMMAND.join(" ");

async function expectMerged(out: string): Promise<void> {
  const parts = readdirSync(at(out)).filter((name) => name.startsWith("part-"));
  const ended = await amberlineHere([
    "merge",
    ...parts.map((name) => at(out, name)),
    "--out",
    at(out, "all"),
  ]);
  expect(ended).toMatchObject({ code: 0, stderr: "" });
  expectSameResults(at("whole"), at(out, "all"));
}

describe("a campaign as a Slurm array", { timeout: TIME_OUT_MS }, () => {
  const isThere = SlurmCluster.isThere();

  it.skipIf(!isThere)(
    "[CAMP-001] runs its shards on a node, and merged they are the whole run",
    async () => {
      const home = mkdtempSync(join(tmpdir(), "amberline-slurm-"));
      const cluster = new SlurmCluster(home);
      try {
        await cluster.start();
        const script = join(FILES, "campaign.sbatch");
        const done = cluster.command(
          "sbatch",
          [
            "--wait",
            "--array=1-4",
            `--output=${home}/job-%a.log`,
            script,
            at("table.scenario.yaml"),
            at("slurm"),
          ],
          { AMBERLINE: COMMAND },
        );
        const said = cluster.outputs(/^job-/, readdirSync(home));
        expect(`${done.stderr}${done.status === 0 ? "" : said}`).toBe("");
        expect(readdirSync(at("slurm")).length).toBe(4);
        await expectMerged("slurm");
      } finally {
        await cluster.stop();
        rmSync(home, { recursive: true, force: true });
      }
    },
  );
});

interface Job {
  apiVersion: string;
  kind: string;
  metadata: { name: string };
  spec: {
    completionMode: string;
    completions: number;
    parallelism: number;
    backoffLimitPerIndex: number;
    template: {
      spec: {
        restartPolicy: string;
        containers: {
          env: { name: string; value: string }[];
          command: string[];
          args: string[];
          volumeMounts: { name: string; mountPath: string }[];
        }[];
        volumes: { name: string }[];
      };
    };
  };
}

describe("a campaign as a Kubernetes Indexed Job", { timeout: TIME_OUT_MS }, () => {
  const job = parse(readFileSync(join(FILES, "campaign.job.yaml"), "utf8")) as Job;
  const container = job.spec.template.spec.containers[0]!;

  it("[CAMP-002] states an index a pod, and the same number of shards twice", () => {
    // Source: Kubernetes API batch/v1, Job: completionMode, completions, backoffLimitPerIndex with
    // restartPolicy Never (from memory; no cluster here to ask).
    expect(job).toMatchObject({ apiVersion: "batch/v1", kind: "Job" });
    expect(job.spec.completionMode).toBe("Indexed");
    expect(job.spec.template.spec.restartPolicy).toBe("Never");
    const shards = container.env.find(({ name }) => name === "SHARDS");
    expect(shards?.value).toBe(String(job.spec.completions));
    expect(job.spec.parallelism).toBeLessThanOrEqual(job.spec.completions);
    const volumes = job.spec.template.spec.volumes.map(({ name }) => name);
    expect(container.volumeMounts.map(({ name }) => name)).toEqual(volumes);
  });

  it("[CAMP-003] its command line, pod by pod, and merged they are the whole run", async () => {
    // The pod has `amberline` on its path.
    writeFileSync(at("amberline"), `#!/bin/sh\nexec ${COMMAND} "$@"\n`);
    chmodSync(at("amberline"), 0o755);
    for (let index = 0; index < 3; index += 1) {
      const env = {
        ...process.env,
        PATH: `${folder}:${process.env["PATH"]}`,
        JOB_COMPLETION_INDEX: String(index),
        SHARDS: "3",
        SCENARIOS: at("table.scenario.yaml"),
        RESULTS: at("pods"),
      };
      const [shell, flag] = container.command as [string, string];
      const ended = spawnSync(shell, [flag, ...container.args], { env, encoding: "utf8" });
      expect(ended.stderr).toBe("");
      expect(ended.status).toBe(0);
    }
    expect(readdirSync(at("pods")).toSorted()).toEqual(["part-1", "part-2", "part-3"]);
    await expectMerged("pods");
  });
});
