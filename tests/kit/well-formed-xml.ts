// A strict reader of the little XML that this project writes: says what is not well formed.

const TOKEN = /<\?xml [^?]*\?>|<(\/?)([A-Za-z][\w.-]*)((?:\s+[\w.-]+="[^"<]*")*)\s*(\/?)>|[^<]+/gy;
const BARE_AMPERSAND = /&(?!(?:amp|lt|gt|quot|apos|#\d+|#x[0-9a-fA-F]+);)/;

export interface XmlElement {
  name: string;
  attributes: Record<string, string>;
}

const NAMED: Record<string, string> = { amp: "&", lt: "<", gt: ">", quot: '"', apos: "'" };

function plain(text: string): string {
  return text.replace(/&(?:#(\d+)|(\w+));/g, (_, code: string | undefined, name: string) =>
    code === undefined ? (NAMED[name] ?? "") : String.fromCodePoint(Number(code)),
  );
}

/** The elements in order; throws at the first place that is not well formed. */
export function readXml(xml: string): XmlElement[] {
  if (BARE_AMPERSAND.test(xml)) throw new Error("bare ampersand");
  const open: string[] = [];
  const elements: XmlElement[] = [];
  TOKEN.lastIndex = 0;
  while (TOKEN.lastIndex < xml.length) {
    const at = TOKEN.lastIndex;
    const token = TOKEN.exec(xml);
    if (token === null) throw new Error(`not well formed at ${at}: ${xml.slice(at, at + 60)}`);
    const [, closing, name, attributes, selfClosing] = token;
    if (name === undefined) continue;
    if (closing === "/") {
      if (open.pop() !== name) throw new Error(`</${name}> closes another element`);
      continue;
    }
    const pairs = [...(attributes ?? "").matchAll(/([\w.-]+)="([^"]*)"/g)];
    const names = pairs.map((pair) => pair[1]!);
    if (new Set(names).size !== names.length) throw new Error(`<${name}> repeats an attribute`);
    const values = pairs.map((pair) => [pair[1]!, plain(pair[2]!)] as const);
    elements.push({ name, attributes: Object.fromEntries(values) });
    if (selfClosing !== "/") open.push(name);
  }
  if (open.length > 0) throw new Error(`<${open.at(-1)}> is never closed`);
  return elements;
}
