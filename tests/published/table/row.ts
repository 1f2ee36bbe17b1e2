// The form of a check value: a figure or a rule that stands outside this project.

/** Where the value was seen: in print, only worked out here from a named definition, or nowhere. */
export type RowKind = "published" | "computed here" | "common practice";

export type RowState =
  | { kind: "tested" }
  /** What of the row no product code answers yet, and why. */
  | { kind: "tested in part"; left: string }
  /** Why it is not tested and what would bring it. */
  | { kind: "not yet"; why: string };

export interface Row {
  id: string;
  title: string;
  source: string;
  kind: RowKind;
  state: RowState;
}

export const DEFINITION = "computed from the definition; no published source named";
export const PRACTICE = "common practice, no source";
/** Ends a source that nobody had open when the row was written. */
export const FROM_MEMORY = " (from memory)";

/** What a source may begin with: an author, a standard, or a public document by its title. */
export const WORKS = [
  "14 CFR ",
  "AC 33.83A",
  "AMS55 ",
  "ARINC 429",
  "ASA terms ",
  "Baker 1939",
  "CGPM 1901",
  "CRC-16/",
  "CRC-32/",
  "CS 25.1322",
  "CS-E 650",
  "Crowder 1987",
  "EUROCAE ED-112",
  "Embedded.com, ",
  "Ewins, Modal Testing",
  "Federal Register 75",
  "Feldbauer and Hoeldrich, DAFx-2000",
  "Feller, ",
  "Fyfe and Munck, ",
  "Garwood 1936",
  "Goertzel 1958",
  "Harris 1978",
  "Harris, Shock and Vibration Handbook",
  "Heinzel, Ruediger, Schilling 2002",
  "Hok 1948",
  "IEEE 754",
  "ISO ",
  "Lewis 1932",
  "Lucas and Saccucci 1990",
  "Mechanical Engineer's Reference Book",
  "Montgomery",
  "NASA GSFC FEMCI",
  "NIST/SEMATECH e-Handbook",
  "OPC 10000-9",
  "Potter and Gribler, SAE 891131",
  "RFC 1055",
  "RFC 1952",
  "Rao, Mechanical Vibrations",
  "Rayleigh 1880",
  "Reed and Kabe, ",
  "Rice 1944-45",
  "Roberts 1959",
  "Ross, ",
  "SAE AS8054",
  "SciPy",
  "Siegmund 1985",
  "Thomson, Theory of Vibration with Applications",
  "Tuma 2005",
  "VDI 2056",
  "Wald 194",
  "Winder, Filter Design",
  "Brook and Evans 1972",
] as const;

type Head = [id: string, kind: "seen" | "computed" | "practice", title: string, source: string];

const KINDS = {
  seen: "published",
  computed: "computed here",
  practice: "common practice",
} as const;

function rowOf([id, kind, title, source]: Head, state: RowState): Row {
  return { id, title, source, kind: KINDS[kind], state };
}

export function tested(...head: Head): Row {
  return rowOf(head, { kind: "tested" });
}

export function inPart(left: string, ...head: Head): Row {
  return rowOf(head, { kind: "tested in part", left });
}

export function notYet(why: string, ...head: Head): Row {
  return rowOf(head, { kind: "not yet", why });
}
