// The text of each page of a PDF that the browser printed: enough of the format for that, no more.
// ISO 32000-1: objects 7.3.10, streams 7.3.8, text-showing operators 9.4.3, ToUnicode maps 9.10.3.
import { inflateSync } from "node:zlib";

type Objects = Map<number, { head: string; stream: string }>;

function objectsOf(file: Buffer): Objects {
  const text = file.toString("latin1");
  const objects: Objects = new Map();
  for (const match of text.matchAll(/(?:^|\n)(\d+) 0 obj\s([\s\S]*?)\nendobj/g)) {
    const [, number, body] = match;
    const at = body!.search(/stream\r?\n/);
    const head = at < 0 ? body! : body!.slice(0, at);
    const length = Number(/\/Length (\d+)/.exec(head)?.[1] ?? 0);
    const start = at < 0 ? 0 : body!.indexOf("\n", at) + 1;
    const bytes = Buffer.from(body!.slice(start, start + length), "latin1");
    const isPacked = head.includes("/FlateDecode") && length > 0;
    const stream = (isPacked ? inflateSync(bytes) : bytes).toString("latin1");
    objects.set(Number(number), { head, stream: at < 0 ? "" : stream });
  }
  return objects;
}

const characters = (hex: string): string =>
  (hex.match(/.{4}/g) ?? []).map((unit) => String.fromCharCode(Number.parseInt(unit, 16))).join("");

/** Glyph code → text, from a font's ToUnicode map. */
function glyphs(map: string): Map<string, string> {
  const found = new Map<string, string>();
  for (const [, block] of map.matchAll(/beginbfchar([\s\S]*?)endbfchar/g)) {
    for (const [, code, to] of block!.matchAll(/<(\w{4})>\s*<(\w+)>/g)) {
      found.set(code!.toUpperCase(), characters(to!));
    }
  }
  for (const [, block] of map.matchAll(/beginbfrange([\s\S]*?)endbfrange/g)) {
    for (const [, from, until, to] of block!.matchAll(/<(\w{4})>\s*<(\w{4})>\s*<(\w{4})>/g)) {
      const [first, last, start] = [from!, until!, to!].map((one) => Number.parseInt(one, 16));
      for (let code = first!; code <= last!; code += 1) {
        const key = code.toString(16).padStart(4, "0").toUpperCase();
        found.set(key, String.fromCharCode(start! + code - first!));
      }
    }
  }
  return found;
}

/** What stands on each page, without spaces, in the order in which it was drawn. */
export function pdfPages(file: Buffer): string[] {
  const objects = objectsOf(file);
  const fonts = new Map<number, Map<string, string>>();
  for (const [number, { head }] of objects) {
    const map = /\/ToUnicode (\d+) 0 R/.exec(head)?.[1];
    if (map !== undefined) fonts.set(number, glyphs(objects.get(Number(map))!.stream));
  }
  const pages: string[] = [];
  for (const { head } of objects.values()) {
    const content = /\/Type \/Page\b[\s\S]*\/Contents (\d+) 0 R/.exec(head)?.[1];
    if (content === undefined) continue;
    const named = new Map(
      [...head.matchAll(/\/(F\d+) (\d+) 0 R/g)].map((m) => [m[1]!, Number(m[2])]),
    );
    let text = "";
    let font: Map<string, string> | undefined;
    const { stream } = objects.get(Number(content))!;
    for (const [, name, hex] of stream.matchAll(/\/(F\d+) [\d.]+ Tf|<([0-9A-Fa-f]+)> Tj/g)) {
      if (name !== undefined) font = fonts.get(named.get(name) ?? -1);
      else
        for (const code of hex!.match(/.{4}/g) ?? []) text += font?.get(code.toUpperCase()) ?? "";
    }
    pages.push(text.normalize("NFKC").replace(/\s/g, ""));
  }
  return pages;
}
