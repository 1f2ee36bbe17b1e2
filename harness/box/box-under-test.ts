import type { LevelBox, LevelBoxFacts } from "../adapter/adapter.ts";

/** A box that shows levels, and what carries it. */
export interface BoxUnderTest {
  box: LevelBox;
  facts: LevelBoxFacts;
  /** "module", or what carries it. */
  kind: string;
  giveUpMs?: number;
}
