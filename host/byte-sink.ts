/** Bytes that grow; handed out as a copy and emptied. */
export class ByteSink {
  #bytes = new Uint8Array(64 * 1024);
  #length = 0;

  add(part: Uint8Array): void {
    while (this.#length + part.byteLength > this.#bytes.byteLength) {
      const wider = new Uint8Array(this.#bytes.byteLength * 2);
      wider.set(this.#bytes.subarray(0, this.#length));
      this.#bytes = wider;
    }
    this.#bytes.set(part, this.#length);
    this.#length += part.byteLength;
  }

  take(): Uint8Array {
    const taken = this.#bytes.slice(0, this.#length);
    this.#length = 0;
    return taken;
  }
}
