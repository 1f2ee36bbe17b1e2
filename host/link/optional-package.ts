// Packages with parts that are compiled for one system: amberline is whole without them, so they are
// loaded when a port is opened, and a missing one is a sentence.
import { createRequire } from "node:module";

/** A package that this installation goes without. */
export class MissingPackage extends Error {}

export interface OptionalPackage {
  name: string;
  version: string;
  /** The command that needs it, as it is typed. */
  neededBy: string;
}

export const SERIAL_PACKAGE: OptionalPackage = {
  name: "serialport",
  version: "13.0.0",
  neededBy: "amberline run --target serial:PATH",
};

export const PTY_PACKAGE: OptionalPackage = {
  name: "@lydell/node-pty",
  version: "1.1.0",
  neededBy: "amberline target",
};

/** Gives a module's exports, or throws. */
export type Load = (name: string) => unknown;

const ownRequire = createRequire(import.meta.url);

export const loadHere: Load = (name) => ownRequire(name) as unknown;

/** Gives a file of a package as that package itself finds it, with what it brought along. */
export function loadWithin(name: string, inside: string): unknown {
  return createRequire(ownRequire.resolve(name))(inside) as unknown;
}

/**
 * Errors    MissingPackage: not installed, or its compiled part is not one of this system
 */
export function loadOptional(wanted: OptionalPackage, load: () => unknown): unknown {
  try {
    return load();
  } catch (error) {
    const { name, version, neededBy } = wanted;
    const said = error instanceof Error ? (error.message.split("\n")[0] ?? "") : String(error);
    throw new MissingPackage(
      `"${neededBy}" needs the package ${name}, which cannot be loaded here: ` +
        `npm install ${name}@${version} (${said})`,
      { cause: error },
    );
  }
}
