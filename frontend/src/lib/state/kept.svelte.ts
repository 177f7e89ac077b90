/** An answer that one screen asks for: what is kept of it at once, a newer one when the server has it. */
import type { Answer } from '$lib/api';
import { database, refresh, type PageName } from '$lib/offline';
import { follow } from './follow';

export class Kept<T extends { current: boolean; pending?: boolean }> {
  value = $state.raw<T | undefined>();
  /** When it was last known to be the server's answer (ISO time of this device). */
  at = $state.raw<string | undefined>();
  /** Why the last look failed; what is shown may be old. */
  failed = $state.raw<unknown>();
  /** The local copy was read. */
  read = $state(false);

  readonly #event: string;
  readonly #name: PageName;
  readonly #fetch: (event: string, etag?: string) => Promise<Answer<T>>;

  constructor(event: string, name: PageName, fetchOne: (event: string, etag?: string) => Promise<Answer<T>>) {
    this.#event = event;
    this.#name = name;
    this.#fetch = fetchOne;
  }

  /** Reads what is kept and looks for newer answers at each change; returns the way to stop. */
  start(): () => void {
    void this.#read().catch((error: unknown) => (this.failed = error));
    return follow(this.#event, () => this.#look());
  }

  async #read(): Promise<void> {
    const found = await (await database()).get('bundle', [this.#event, this.#name]);
    this.value = found?.value as T | undefined;
    this.at = found?.at;
    this.read = true;
  }

  async #look(): Promise<boolean> {
    try {
      await refresh(await database(), this.#event, this.#name, this.#fetch);
      await this.#read();
      this.failed = undefined;
    } catch (error) {
      this.failed = error;
      this.read = true;
      return false;
    }
    return this.value?.current !== false && this.value?.pending !== true;
  }
}
