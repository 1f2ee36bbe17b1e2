// Units as they are often written, and the writing that is read. A guess is told, never taken.

/** Each writing that is read, and others for the same unit: the number stays what it is. */
export const WRITINGS: readonly [standard: readonly string[], others: string][] = [
  [["r/min"], "rpm r.p.m. rpms rev/min revs/min r/m 1/min /min min-1 min^-1 min⁻¹ cpm"],
  [["rev/s", "Hz"], "rps r.p.s. r/s rev/sec revs/s revs/sec 1/s /s s-1 s^-1 s⁻¹ cps cycles/s"],
  [["rev/s"], "Hz"],
  [["Hz"], "rev/s hertz"],
  [["r/min/s"], "r/min rpm/s rpm/sec rev/min/s"],
  [["rev/s²"], "rev/s rps/s rev/s/s rev/sec² rev/sec^2 Hz/s"],
  [["cycles/sample"], "rev/sample"],
  [["rev/sample"], "cycles/sample"],
  [["g"], "g's gs g-s gn g_n gee gees G's gram grams gr"],
  [["m/s²"], "m/s/s m/sec² m/sec^2 m/sec2 m/ss"],
  [["mm/s²"], "mm/s/s mm/sec² mm/sec^2 mm/sec2 mm/s2"],
  [["um/s²"], "um/s/s um/s2 µm/s2 µm/s^2"],
  [["in/s²"], "in/s/s in/sec² in/sec^2 in/sec2 ips² ips/s"],
  [["in/s"], "ips i.p.s. in/sec inch/s inch/sec inches/s inches/sec in./s in./sec"],
  [["mm/s"], "mm/sec mmps mm/second"],
  [["m/s"], "m/sec mps m/second"],
  [["mil"], "mils thou thous"],
  [["um"], "micron microns micrometer micrometers micrometre micrometres"],
  [["mm"], "millimeter millimeters millimetre millimetres"],
  [["m"], "meter meters metre metres"],
  [["in"], 'inch inches in. " ″'],
  [["kHz"], "kilohertz"],
  [["MHz"], "megahertz"],
  [["s"], "sec secs sec. second seconds"],
  [["ms"], "msec msecs millisecond milliseconds"],
  [["us"], "usec μs microsecond microseconds"],
  [["min"], "mins minute minutes"],
  [["h"], "hr hrs hour hours"],
  [["samples"], "smp smps"],
  [["deg"], "degree degrees degs deg. º"],
  [["rad"], "rads radian radians"],
  [["rev"], "revs revolution revolutions turn turns"],
  [["kg"], "kgs kilogram kilograms"],
  [["g mm"], "gmm g.mm g-mm gr-mm gram-mm"],
  [["kg m"], "kgm kg.m kg-m"],
  [["oz in"], "ozin oz.in oz-in ounce-inch ounce-inches"],
  [["%"], "percent pct"],
  [["pk"], "peak pks p 0-pk 0-p 0-peak zero-peak zero-to-peak"],
  [["pk-pk"], "pp p-p pkpk pk-to-pk pk/pk peak-peak peak-to-peak"],
  [["rms"], "r.m.s. eff"],
];

/** A letter's case that changes the size: mHz and MHz are a thousand million apart. */
const IS_CASE_TOLD = /^mhz$/iu;

/** The writing that is read, of those allowed, for one that is not; empty where none is near. */
export function standardWriting(found: string, allowed: readonly string[]): string {
  const words = (others: string): string[] => others.split(" ");
  const isMeant = (isSame: (word: string) => boolean): string | undefined => {
    for (const [standard, others] of WRITINGS) {
      if (!words(others).some(isSame)) continue;
      const one = standard.find((name) => allowed.includes(name));
      if (one !== undefined) return one;
    }
    return undefined;
  };
  const plain = found.trim().toLowerCase();
  if (plain === "") return "";
  const exact = isMeant((word) => word === found.trim());
  if (exact !== undefined) return exact;
  if (IS_CASE_TOLD.test(plain)) return "";
  const byCase = allowed.find((name) => name.toLowerCase() === plain);
  return byCase ?? isMeant((word) => word.toLowerCase() === plain) ?? "";
}
