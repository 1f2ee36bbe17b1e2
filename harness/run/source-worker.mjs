// The module that a thread runs where the sources are not built: a thread does not take its parent's
// TypeScript loader over, so it is registered here before the worker is read.
import { register } from "tsx/esm/api";

register();

const { default: runTask } = await import("./case-worker.ts");

export default runTask;
