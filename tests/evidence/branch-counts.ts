// Set up in each test file while branches are counted: gives every instance of the firmware the count
// that it asks for, and writes at the end what was counted.
import { randomUUID } from "node:crypto";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll } from "vitest";

const folder = process.env["BRANCH_COUNTS"];
if (folder === undefined) throw new Error("BRANCH_COUNTS must name the folder of the counts");

const counts: number[] = [];
const branch = { count: (way: number): void => void (counts[way] = (counts[way] ?? 0) + 1) };

const Plain = WebAssembly.Instance;
WebAssembly.Instance = new Proxy(Plain, {
  construct: (target, [module, imports]: [WebAssembly.Module, WebAssembly.Imports?]) =>
    new target(module, { ...imports, branch }),
});

afterAll(() => {
  writeFileSync(join(folder, `${randomUUID()}.json`), JSON.stringify(Object.entries(counts)));
});
