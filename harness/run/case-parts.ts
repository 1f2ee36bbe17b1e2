// The parts that a case is really made of.
import { configurationBytes } from "../../host/profile/configuration.ts";
import { makeJudge } from "../judge/judge.ts";
import { makeTruth } from "../truth/truth.ts";
import { makeWaveform } from "../waveform/waveform.ts";
import type { CaseParts } from "./run-case.ts";

export const CASE_PARTS: CaseParts = { configurationBytes, makeJudge, makeTruth, makeWaveform };
