// Speed beside what a user would take instead: the bench's own rows, judged where the machine is not
// shared. Ratios are of one run.
import { TimedC, timeWork } from "../bench/core-rows.ts";
import { pythonPath, routes, timesOfRoutes } from "../bench/python-rows.ts";
import { campaign, growthWithCases, growthWithLength } from "../bench/whole-rows.ts";
import { FOUR_BY_TWO, WHOLE_PATH } from "../bench/works.ts";
import type { Figure, Measured } from "./figure.ts";

const ROUNDS = 15;
const SIMD_NS_MAX = 1;
const TIMES_OF_C_MIN = 2;
const PATH_NS_MAX = 3;
const TIMES_OF_PYTHON_MIN = 50;
const DEPARTURE_MAX = 0.1;
const FLIGHTS = 1000;
/** Flights where not all are asked for (AMBERLINE_ALL_TESTS=1). */
const FLIGHTS_TRIED = 40;
const FLIGHTS_MIN_MAX = 12;

async function simd(): Promise<Measured> {
  const c = new TimedC();
  try {
    const [fast, , inC] = timeWork(FOUR_BY_TWO, c, ROUNDS).rows;
    const ns = fast!.nsPerFilterSample.median;
    const times = inC!.nsPerFilterSample.median / ns;
    return {
      text: `${ns.toFixed(2)} ns, ${times.toFixed(2)} times C -O3 of the same run, the same records`,
      isOk: ns <= SIMD_NS_MAX && times >= TIMES_OF_C_MIN,
    };
  } finally {
    c.remove();
  }
}

async function path(): Promise<Measured> {
  const ns = WHOLE_PATH.map((work) => {
    return timeWork(work, undefined, ROUNDS).rows[0]!.nsPerFilterSample.median;
  });
  const rates = WHOLE_PATH.map(({ sampleRateHz }, i) => {
    return `${ns[i]!.toFixed(2)} at ${sampleRateHz / 1000} kHz`;
  });
  return { text: `${rates.join(", ")} ns a sample`, isOk: Math.max(...ns) <= PATH_NS_MAX };
}

async function python(): Promise<Measured> {
  const path3 = pythonPath();
  if (path3 === undefined) throw new Error("needs python3-scipy");
  const results = routes(path3, 5);
  const times = results.map(timesOfRoutes);
  const text = results.map(({ work, rows }, i) => {
    const worst = Math.min(...rows.slice(1).map(({ errorPercent }) => errorPercent));
    return (
      `${work}: ${times[i]!.toFixed(0)} times (errors ${rows[0]!.errorPercent.toExponential(0)} % ` +
      `and ${worst.toExponential(0)} % at best)`
    );
  });
  return { text: text.join("; "), isOk: Math.min(...times) >= TIMES_OF_PYTHON_MIN };
}

async function linear(): Promise<Measured> {
  const length = growthWithLength();
  const cases = growthWithCases([1000, 2500, 4000]);
  const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
  const memory = [...length.rows, ...cases.rows].map(({ greatestMb }) => greatestMb);
  return {
    text:
      `length ${percent(length.departure)}, cases ${percent(cases.departure)}; ` +
      `at most ${Math.max(...memory).toFixed(0)} MB`,
    isOk: Math.max(length.departure, cases.departure) <= DEPARTURE_MAX,
  };
}

async function flights(): Promise<Measured> {
  const isAll = process.env["AMBERLINE_ALL_TESTS"] === "1";
  const count = isAll ? FLIGHTS : FLIGHTS_TRIED;
  const { seconds, greatestMb, isRight } = campaign(count, 3600, 2);
  const minutes = ((seconds / 60) * FLIGHTS) / count;
  const scaled = isAll ? "" : ` at this pace (${count} flown)`;
  return {
    text: `${minutes.toFixed(1)} min${scaled}, ${greatestMb.toFixed(0)} MB, ${isRight ? "right" : "WRONG"}`,
    isOk: isRight && minutes < FLIGHTS_MIN_MAX,
  };
}

export const BENCH_FIGURES: Figure[] = [
  {
    id: "BENCH-SIMD",
    what: "SIMD, four channels × two orders on one shaft, segments of 64, filters alone",
    required: `at most ${SIMD_NS_MAX} ns a filter-sample, at least ${TIMES_OF_C_MIN} times C -O3`,
    isOfMachine: true,
    measure: simd,
  },
  {
    id: "BENCH-PATH",
    what: "the whole firmware path, SIMD, one filter, P = 1, every check",
    required: `at most ${PATH_NS_MAX} ns a sample from 12.8 kHz up`,
    isOfMachine: true,
    measure: path,
  },
  {
    id: "BENCH-PYTHON",
    what: "the core against the fastest of two vectorised routes in Python with SciPy",
    required: `at least ${TIMES_OF_PYTHON_MIN} times as fast`,
    isOfMachine: true,
    measure: python,
  },
  {
    id: "BENCH-LINEAR",
    what: "CPU time against length (2, 6, 10 h) and cases (1,000, 2,500, 4,000): slopes compared",
    required: "linear within 10 %",
    isOfMachine: true,
    measure: linear,
  },
  {
    id: "BENCH-FLIGHTS",
    what: "1,000 flights of one hour, made, run and judged on two threads",
    required: `under ${FLIGHTS_MIN_MAX} min`,
    isOfMachine: true,
    measure: flights,
  },
];
