// Seeded harm to bytes: what a broken disk, a wrong editor or a hostile hand makes of a good file.

/** Whole numbers from a seed: xorshift32, enough to choose places (G. Marsaglia, 2003). */
export class Choice {
  #state: number;

  constructor(seed: number) {
    // Spread first, so that neighbouring seeds go different ways; never 0.
    this.#state = (Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) ^ (seed >>> 13)) >>> 0 || 1;
    for (let i = 0; i < 4; i += 1) this.below(2);
  }

  /** From 0 to count − 1. */
  below(count: number): number {
    let x = this.#state;
    x ^= x << 13;
    x ^= x >>> 17;
    x ^= x << 5;
    this.#state = x >>> 0;
    return this.#state % count;
  }

  of<T>(items: readonly T[]): T {
    return items[this.below(items.length)]!;
  }
}

type Harm = (bytes: Buffer, choice: Choice) => Buffer;

const NUMBERS = [
  "0",
  "-1",
  "1e400",
  "-1e308",
  "1e-320",
  "99999999999999999999",
  "0x7fffffff",
  ".nan",
  ".inf",
  "NaN",
  "1,5",
  "1e",
  "--1",
  "٣",
];
const WORDS = [
  "null",
  "true",
  "~",
  "[]",
  "{}",
  "*a",
  "&a ",
  "!!binary ",
  "__proto__",
  "constructor",
  '"',
  "'",
  "|",
  "\u0000",
  "\u2028",
  "\ufeff",
  "\u001b[2J",
  "𝟙",
  "<<: *a",
  "- ",
  ": ",
  "#",
  ";",
  "\t",
];

function spliced(bytes: Buffer, from: number, until: number, into: string | Buffer): Buffer {
  const middle = typeof into === "string" ? Buffer.from(into) : into;
  return Buffer.concat([bytes.subarray(0, from), middle, bytes.subarray(until)]);
}

/** A number of the text, or undefined where it has none. */
function aNumber(text: string, choice: Choice): RegExpExecArray | undefined {
  const all = [...text.matchAll(/\d+(?:\.\d+)?/g)];
  return all.length === 0 ? undefined : choice.of(all);
}

function nested(choice: Choice): string {
  const depth = 10 ** (1 + choice.below(4));
  const [open, close] = choice.of([
    ["[", "]"],
    ["{a: ", "}"],
    ['{"a":', "}"],
    ["- ", ""],
    ["(", ")"],
  ] as const);
  return `${open.repeat(depth)}1${close.repeat(choice.below(2) * depth)}`;
}

function aliases(choice: Choice): string {
  const lines = ["x0: &x0 [1, 1, 1, 1, 1, 1, 1, 1, 1]"];
  for (let i = 1; i <= 2 + choice.below(8); i += 1) {
    lines.push(
      `x${i}: &x${i} [${Array(9)
        .fill(`*x${i - 1}`)
        .join(", ")}]`,
    );
  }
  return choice.of([
    `${lines.join("\n")}\n`,
    "y: &y [*y]\n",
    "z: &z { z: *z }\n",
    "<<: &w { <<: *w }\n",
  ]);
}

const LINE_HARMS = {
  swap: (lines: string[], choice: Choice): void => {
    const [one, two] = [choice.below(lines.length), choice.below(lines.length)];
    [lines[one], lines[two]] = [lines[two]!, lines[one]!];
  },
  twice: (lines: string[], choice: Choice): void => {
    const at = choice.below(lines.length);
    lines.splice(at, 0, lines[at]!);
  },
  gone: (lines: string[], choice: Choice): void => {
    lines.splice(choice.below(lines.length), 1);
  },
  indented: (lines: string[], choice: Choice): void => {
    const at = choice.below(lines.length);
    lines[at] = choice.below(2) === 0 ? `  ${lines[at]}` : lines[at]!.trimStart();
  },
};

function byLines(harm: (lines: string[], choice: Choice) => void): Harm {
  return (bytes, choice) => {
    const lines = bytes.toString("latin1").split("\n");
    harm(lines, choice);
    return Buffer.from(lines.join("\n"), "latin1");
  };
}

const turnBit: Harm = (bytes, choice) => {
  const other = Buffer.from(bytes);
  const at = choice.below(bytes.length);
  other[at] = other[at]! ^ (1 << choice.below(8));
  return other;
};

/** The bytes with one bit turned: the same for the same seed. */
export function bitTurned(bytes: Uint8Array, seed: number): Buffer {
  return turnBit(Buffer.from(bytes), new Choice(seed));
}

const HARMS: readonly Harm[] = [
  turnBit,
  (bytes, choice) => bytes.subarray(0, choice.below(bytes.length)),
  (bytes, choice) => {
    const from = choice.below(bytes.length);
    return spliced(bytes, from, Math.min(bytes.length, from + 1 + choice.below(64)), "");
  },
  (bytes, choice) => {
    const some = Buffer.from(Array.from({ length: 1 + choice.below(8) }, () => choice.below(256)));
    const at = choice.below(bytes.length);
    return spliced(bytes, at, at, some);
  },
  (bytes, choice) => {
    const at = choice.below(bytes.length);
    return spliced(bytes, at, at, choice.of(WORDS));
  },
  (bytes, choice) => {
    const text = bytes.toString("latin1");
    const found = aNumber(text, choice);
    if (found === undefined) return bytes;
    return spliced(bytes, found.index, found.index + found[0].length, choice.of(NUMBERS));
  },
  // A field of four bytes, as heads of binary files have them, at its ends.
  (bytes, choice) => {
    const other = Buffer.from(bytes);
    if (other.length < 4) return other;
    const at = choice.below(Math.min(other.length - 3, 256));
    other.writeUInt32LE(choice.of([0, 1, 0x7fffffff, 0x80000000, 0xffffffff, 0xfffffffe]), at);
    return other;
  },
  (bytes, choice) => {
    const text = bytes.toString("latin1");
    const words = [...text.matchAll(/[\w.]+/g)];
    if (words.length === 0) return bytes;
    const word = choice.of(words);
    const into = choice.below(3) === 0 ? nested(choice) : choice.of([...WORDS, ...NUMBERS]);
    return spliced(bytes, word.index, word.index + word[0].length, into);
  },
  (bytes, choice) => spliced(bytes, 0, 0, aliases(choice)),
  (bytes, choice) => spliced(bytes, bytes.length, bytes.length, aliases(choice)),
  byLines(LINE_HARMS.swap),
  byLines(LINE_HARMS.twice),
  byLines(LINE_HARMS.gone),
  byLines(LINE_HARMS.indented),
];

type Tree = Record<string, unknown>;

/** One field of a JSON text, taken out or replaced: still JSON, so it comes past the parser. */
function fieldHarmed(bytes: Buffer, choice: Choice): Buffer {
  const root = JSON.parse(bytes.toString()) as Tree;
  let at: Tree = root;
  for (;;) {
    const key = choice.of(Object.keys(at));
    const inside = at[key];
    const goesOn = typeof inside === "object" && inside !== null && Object.keys(inside).length > 0;
    if (goesOn && choice.below(3) > 0) {
      at = inside as Tree;
      continue;
    }
    const kind = choice.below(8);
    if (kind === 0) delete at[key];
    else at[key] = [null, "x", -1, 1e308, {}, [], true][kind - 1];
    return Buffer.from(JSON.stringify(root));
  }
}

/** The bytes with one to three harms done to them: the same for the same seed. */
export function harmed(bytes: Uint8Array, seed: number): Buffer {
  const choice = new Choice(seed);
  let other: Buffer = Buffer.from(bytes);
  // Most harms to JSON end at its parser: every other one is of what it says.
  if (other[0] === 0x7b && choice.below(2) === 0) return fieldHarmed(other, choice);
  for (let times = 1 + choice.below(3); times > 0; times -= 1) {
    if (other.length === 0) break;
    other = choice.of(HARMS)(other, choice);
  }
  return other;
}
