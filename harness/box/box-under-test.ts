import type { LevelBox, LevelBoxFacts } from "../adapter/adapter.ts";
import type { AdapterWatch } from "../adapter/adapter-watch.ts";

/** A box that shows levels, and what carries it. */
export interface BoxUnderTest {
  box: LevelBox;
  facts: LevelBoxFacts;
  /** As the summary of a run has it. */
  identity: string;
  /** "module", or what carries it. */
  kind: string;
  /** Of code of the user's own: where it stands, and what waits for it. */
  file?: string;
  watch?: AdapterWatch;
}
