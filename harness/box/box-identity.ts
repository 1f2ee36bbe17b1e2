// Identity of a case that is judged by a box's own specification: another file, another case.
import { caseIdentity } from "../results/identity.ts";
import type { Scene } from "../scene/scene.ts";
import type { DeviceSpecification } from "./device-file.ts";

/** As caseIdentity; without a device it is the same. */
export function boxIdentity(
  scene: Scene,
  { kind, identity }: { kind: string; identity: string },
  device: DeviceSpecification | undefined,
): string {
  const judgedBy = device === undefined ? "" : ` ${JSON.stringify(device)}`;
  return caseIdentity(scene, { kind, identity: identity + judgedBy });
}
