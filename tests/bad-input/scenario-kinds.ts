// Scenarios that a tired or hostile user may hand over, to `run` and to `check`.
import { scenarioText } from "../kit/small-scenario.ts";
import { type Content, fileName, type Group, type Kind, OUT } from "./kind.ts";

const good = scenarioText();
const bomb = ["a: &a [x, x, x, x, x, x, x, x, x]"];
for (const [i, name] of ["b", "c", "d", "e", "f", "g", "h", "i"].entries()) {
  const before = "abcdefgh"[i]!;
  bomb.push(`${name}: &${name} [${Array(9).fill(`*${before}`).join(", ")}]`);
}

type Row = [group: Group, what: string, content: Content, place: string, sentence: string];
const WRONG: Row[] = [
  [
    "fields",
    "an unknown key",
    `${good}vibraton: 3\n`,
    ":8:1",
    'unknown key "vibraton" (did you mean "vib',
  ],
  [
    "quantities",
    "a missing unit",
    good.replace("4 s", "4"),
    ":4:11",
    "duration needs a unit (s, ms,",
  ],
  [
    "quantities",
    "a wrong unit",
    good.replace("1 in/s pk", "1 kg pk"),
    ":7:28",
    '"1 kg pk" is a mass',
  ],
  ["quantities", "a missing detector", good.replace("1 in/s pk", "1 in/s"), ":7:28", "pk"],
  ["quantities", "text in a number", good.replace("4 s", "four s"), ":4:11", 'found "four s"'],
  ["quantities", "not a number", good.replace("4 s", ".nan s"), ":4:11", 'found ".nan s"'],
  ["quantities", "infinity", good.replace("4 s", "1e400 s"), ":4:11", 'found "1e400 s"'],
  [
    "quantities",
    "a negative time",
    good.replace("4 s", "-4 s"),
    ":4:11",
    'must be > 0 s, found "-4 s"',
  ],
  [
    "quantities",
    "years",
    good.replace("4 s", "1e12 s"),
    ":4:11",
    'must be <= 1000 h, found "1e12 s"',
  ],
  [
    "fields",
    "an order out of range",
    good.replace("order: 1,", "order: 1e9,"),
    ":7:14",
    "must be <= 1000",
  ],
  [
    "fields",
    "fields at odds",
    `${good}channels: { frame: {} }\n`,
    ":6:1",
    "vibration contradicts channels",
  ],
  [
    "fields",
    "a key twice",
    `${good}duration: 5 s\n`,
    ":8:1",
    "is not valid YAML: Map keys must be unique",
  ],
  ["files", "a tab", "question: x\n\tprofile: y\n", ":2:1", "is not valid YAML: "],
  ["files", "two documents", `${good}---\n${good}`, ":8:1", "a second document starts here"],
  ["files", "an empty file", "", ":1:1", "must hold a map of keys and values"],
  ["files", "a list", "- 1\n", ":1:1", "must hold a map of keys and values"],
  ["files", "an alias bomb", `${bomb.join("\n")}\n${good}`, ":3:", "uses more than 100 aliases"],
  [
    "files",
    "Latin-1",
    Buffer.from(good.replace("read", "r\u00e9ad"), "latin1"),
    ":2:28",
    "byte 0xe9 stands",
  ],
  ["files", "UTF-16", Buffer.from(`\ufeff${good}`, "utf16le"), ":1:1", "but in UTF-16"],
  ["files", "a zero byte", good.replace("read", "re\0ad"), ":2:29", "a zero byte stands here"],
  [
    "files",
    "no such profile",
    good.replace("small.", "none."),
    ":3:10",
    '"none.monitor.yaml" does not exist',
  ],
  ["files", "a folder as profile", good.replace("small.", "folder."), ":3:10", "is a folder"],
  ["files", "2 GB as profile", good.replace("small.", "huge."), ":3:10", "has at most 4 MiB"],
];

export const SCENARIO_KINDS: Kind[] = WRONG.flatMap(([group, what, content, place, sentence]) => {
  const file = fileName(what, ".scenario.yaml");
  const told = [`…/${file}${place}`, sentence];
  const files = { [file]: content };
  return [
    { group, what: `${what}, run`, files, args: ["run", `…/${file}`, ...OUT], told, code: 2 },
    { group, what: `${what}, checked`, files, args: ["check", `…/${file}`], told, code: 2 },
  ];
});
