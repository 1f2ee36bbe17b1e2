// Tests that need a pseudo-terminal and a serial port: skipped in one line where this system or this
// installation has none, and an error where AMBERLINE_ALL_TESTS=1 says that nothing may be left out.
import { PtyPort } from "../../host/link/pty-pair.ts";
import { SERIAL_PACKAGE, loadHere, loadOptional } from "../../host/link/optional-package.ts";

/**
 * Whether both are here, told where they are not.
 *
 * Errors    throws where they are missing and AMBERLINE_ALL_TESTS=1
 */
export async function isPtyHere(): Promise<boolean> {
  const port = new PtyPort();
  try {
    loadOptional(SERIAL_PACKAGE, () => loadHere(SERIAL_PACKAGE.name));
    await port.open();
    await port.close();
    return true;
  } catch (error) {
    const line = `needs a pseudo-terminal and a serial port: ${(error as Error).message}`;
    if (process.env["AMBERLINE_ALL_TESTS"] === "1") throw new Error(line, { cause: error });
    process.stdout.write(`skipped: ${line}\n`);
    return false;
  }
}
