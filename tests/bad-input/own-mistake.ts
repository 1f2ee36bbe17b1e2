// What no user may be told: a stack, our own admission, or a sentence of the engine's or of Node's
// about our program in place of one about the input.

// A frame names a file of code and a place in it: a sentence, broken at "at", names none.
const STACK = /\n {4}at .*(?:\.[cm]?[jt]s|\bnode:\S+):\d+:\d+\)?(?=\n|$)/;

const SENTENCES = [
  /mistake of its own/,
  /\b(?:Type|Range|Reference|Syntax)Error\b/,
  /\bdetached ArrayBuffer\b/,
  /\bCannot (?:read|set|perform|destructure|convert|mix|assign|access|redefine|delete|define)\b/,
  /\bis not (?:a function|a constructor|iterable|async iterable|defined|extensible)\b/,
  /\bInvalid (?:typed array|array|array buffer|string|DataView|time|count|date)\b/,
  /\bInvalid (?:regular expression|code point)\b/,
  /\boffset (?:\d+ )?is (?:outside the bounds|out of bounds)\b/i,
  /\boutside buffer bounds\b/,
  /\bstart offset of \w+ should be a multiple\b/,
  /\bMaximum call stack size\b/,
  /\bReduce of empty array\b/,
  /\bConverting circular structure\b/,
  /\b(?:in JSON at position|is not valid JSON|JSON input)\b/,
  /\bargument must be (?:between|of type|an instance of|one of type)\b/,
  /\bThe (?:argument|value of) ["']\w[\w.]*["'] (?:is|must)\b/,
  /\bThe ["'][\w.[\]]+["'] (?:argument|property) must be\b/,
  /\b(?:Array buffer allocation|memory allocation) failed\b/,
  /\bBigInt(?:s)? (?:to|types|from)\b|\bto a BigInt\b/,
  /\[object \w+\]/,
];

/** The words of a mistake of our own in what was said, or undefined; a terminal breaks sentences. */
export function ownMistake(said: string): string | undefined {
  const one = said.replace(/\s+/g, " ");
  return [STACK.exec(said), ...SENTENCES.map((words) => words.exec(one))].find(
    (found) => found !== null,
  )?.[0];
}
