/**
 * Records of others that wait for the estimates that follow from them, so that a
 * screen full of both is drawn once and not twice; but not for long.
 */

/** Longest wait: the server has estimates of a change in a third of a second. */
export const HOLD_MS = 500;

/** Reads records of these kinds with these ids, and calls also in the moment in which they are set. */
export type ReadRecords<K> = (kinds: K[], ids: string[], also?: () => void) => Promise<void>;

export class Held<K> {
  readonly #read: ReadRecords<K>;
  readonly #kinds = new Set<K>();
  readonly #ids = new Set<string>();
  #timer: ReturnType<typeof setTimeout> | undefined;

  constructor(read: ReadRecords<K>) {
    this.#read = read;
  }

  add(kinds: readonly K[], ids: readonly string[]): void {
    for (const kind of kinds) this.#kinds.add(kind);
    for (const id of ids) this.#ids.add(id);
    this.#timer ??= setTimeout(() => void this.release(), HOLD_MS);
  }

  /** Reads what waits, and calls also together with it. */
  async release(also: () => void = () => undefined): Promise<void> {
    this.stop();
    if (this.#ids.size === 0) return also();
    const [kinds, ids] = [[...this.#kinds], [...this.#ids]];
    this.#kinds.clear();
    this.#ids.clear();
    await this.#read(kinds, ids, also);
  }

  stop(): void {
    clearTimeout(this.#timer);
    this.#timer = undefined;
  }
}
