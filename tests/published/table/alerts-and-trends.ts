// Rules on alerting, alarm statistics, trends (Q).
import { DEFINITION, inPart, notYet, tested } from "./row.ts";
import type { Row } from "./row.ts";

const RULE_ON_ENGINES = "a rule on engines, not on an indication: no figure to run";
const STUDY = "no statistics of alarms in the product; needs the caution study";

const RULE_ROWS: Row[] = [
  tested("A-01", "seen", "at most a caution, never red", "14 CFR 25.1322(b); CS 25.1322"),
  tested("A-02", "seen", "each occurrence can be acknowledged", "14 CFR 25.1322(c)"),
  tested("A-03", "seen", "goes away with its cause", "14 CFR 25.1322(a)(3)"),
  inPart(
    "the rate of nuisance alerts; needs the caution study",
    "A-04",
    "seen",
    "few false and nuisance alerts",
    "14 CFR 25.1322(d)",
  ),
  tested("A-05", "seen", "amber, and not by colour alone", "14 CFR 25.1322(e), (f)"),
  notYet(
    "date and place of the rule: no figure to run",
    "A-06",
    "seen",
    "where the rule stands",
    "Federal Register 75 (211), 2010",
  ),
  notYet(RULE_ON_ENGINES, "A-07", "seen", "indicator of unbalance", "14 CFR 25.1305(d)(3)"),
  notYet(RULE_ON_ENGINES, "A-08", "seen", "no excess vibration", "14 CFR 33.63"),
  notYet(
    "the speed axis of plots over speed; needs the review page",
    "A-09",
    "seen",
    "survey to 103 %",
    "14 CFR 33.83(b)",
  ),
  notYet(RULE_ON_ENGINES, "A-10", "seen", "endurance limits", "14 CFR 33.83(d)"),
  notYet(RULE_ON_ENGINES, "A-11", "seen", "10 million reversals", "14 CFR 33.43(b)"),
  notYet(
    RULE_ON_ENGINES,
    "A-12",
    "seen",
    "guidance for the survey",
    "AC 33.83A, 2006, and AC 33.63-1, 2007",
  ),
  notYet(
    "as A-09; needs the review page",
    "A-13",
    "seen",
    "responses over the envelope",
    "CS-E 650",
  ),
  tested("A-14", "seen", "levels tied to rotor speed", "SAE AS8054"),
  tested("A-15", "seen", "a discrete for each engine", "EUROCAE ED-112, parameter 62"),
];

const LOGIC_ROWS: Row[] = [
  tested("A-16", "computed", "level and hysteresis", DEFINITION),
  tested("A-17", "computed", "three in a row, on and off", "OPC 10000-9 B.1.5"),
  tested("A-18", "seen", "mean trials to a run", "Ross, recursion of runs; Feller, I ch. XIII"),
  tested("A-19", "computed", "a run within N trials", DEFINITION),
  notYet(
    "a delay wants a run: the product has no M of N",
    "A-20",
    "computed",
    "M of N",
    DEFINITION,
  ),
  tested("A-21", "seen", "Gaussian tail", "Mechanical Engineer's Reference Book, Table 1.4"),
  notYet(
    STUDY,
    "A-22",
    "computed",
    "up-crossings of a level",
    "Rice 1944-45; Harris, Shock and Vibration Handbook, eq (11.48)",
  ),
  notYet(
    STUDY,
    "A-23",
    "computed",
    "crossings of narrow-band noise",
    "Harris, Shock and Vibration Handbook, eq (11.49)",
  ),
  notYet(STUDY, "A-24", "computed", "zero up-crossings of a band", "Rice 1944-45"),
  tested("A-25", "computed", "envelope of noise", "Rice 1944-45"),
  notYet(STUDY, "A-26", "computed", "sequential test, limits", "Wald 1945 (from memory)"),
  notYet(STUDY, "A-27", "computed", "sequential test, length", "Wald 1947 (from memory)"),
];

export const ALERT_ROWS: Row[] = [...RULE_ROWS, ...LOGIC_ROWS];

const TREND = "no trend over flights in the product; needs the trend record";
const BINOMIAL = "no interval of a share in the product; needs the caution study";
const NIST = "NIST/SEMATECH e-Handbook 6.3.2.4";
const EXAMPLE = "Montgomery, Introduction to Statistical Quality Control, Example 9.1";

export const TREND_ROWS: Row[] = [
  notYet(TREND, "Q-01", "seen", "moving average", NIST),
  notYet(TREND, "Q-02", "seen", "limits of the moving average", NIST),
  notYet(TREND, "Q-03", "computed", "limits that widen", "Montgomery, chapter on the EWMA"),
  notYet(TREND, "Q-04", "computed", "tabular CUSUM", EXAMPLE),
  notYet(TREND, "Q-05", "computed", "moving average on the same data", EXAMPLE),
  notYet(
    TREND,
    "Q-06",
    "seen",
    "plain cumulative sum",
    "Montgomery and Runger, Applied Statistics, Table 16-7",
  ),
  notYet(
    TREND,
    "Q-07",
    "computed",
    "run lengths of a CUSUM",
    "Montgomery, Introduction to Statistical Quality Control; Brook and Evans 1972",
  ),
  notYet(TREND, "Q-08", "computed", "one-sided run lengths", "Brook and Evans 1972"),
  notYet(TREND, "Q-09", "computed", "approximation of a run length", "Siegmund 1985 (from memory)"),
  notYet(
    TREND,
    "Q-10",
    "computed",
    "run lengths of a moving average",
    "Lucas and Saccucci 1990 (from memory); Crowder 1987",
  ),
  notYet(TREND, "Q-11", "computed", "run lengths of single values", DEFINITION),
  notYet(BINOMIAL, "Q-12", "computed", "interval of 10 in 20", DEFINITION),
  notYet(BINOMIAL, "Q-13", "computed", "intervals of other shares", DEFINITION),
  notYet(BINOMIAL, "Q-14", "seen", "interval of a count", "Garwood 1936"),
  notYet(BINOMIAL, "Q-15", "computed", "intervals of other counts", "Garwood 1936"),
  notYet(BINOMIAL, "Q-16", "computed", "no event seen", DEFINITION),
  notYet(TREND, "Q-17", "computed", "memory of a moving average", DEFINITION),
];
