// What makes part of a channel's signal.

export interface SignalSource {
  /**
   * Adds samples chunkFirst … chunkFirst + count − 1 to out[0 … count), which is the chunk of this
   * thread's kernel. Chunks come in order.
   */
  add(chunkFirst: number, count: number, out: Float64Array): void;
}
