// A figure: what is required, and how it is measured. `npm run figures` prints one row for each.

export interface Measured {
  /** What came out, with its unit. */
  text: string;
  isOk: boolean;
}

export interface Figure {
  id: string;
  /** What is measured, in a few words. */
  what: string;
  required: string;
  /** A figure of how fast the machine is: told, not judged, where others share it. */
  isOfMachine?: true;
  measure(): Promise<Measured>;
}

/** The greatest of a set of values, and where it stood. */
export class Worst {
  value = 0;
  where = "nowhere";
  count = 0;
  take(value: number, where: string): void {
    this.count += 1;
    if (value > this.value || Number.isNaN(value)) {
      this.value = value;
      this.where = where;
    }
  }
}
