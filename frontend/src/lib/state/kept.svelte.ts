/** An answer that one screen asks for: what is kept of it at once, a newer one when the server has it. */
import type { Answer } from '$lib/api';
import { database, refresh, type Bundle, type PageName } from '$lib/offline';
import { follow } from './follow';

export class Kept<T extends { current: boolean; pending?: boolean }> {
  value = $state.raw<T | undefined>();
  /** When it was last known to be the server's answer (ISO time of this device). */
  at = $state.raw<string | undefined>();
  /** Why the last look failed; what is shown may be old. */
  failed = $state.raw<unknown>();
  /** The local copy was read. */
  read = $state(false);

  #etag: string | undefined;

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
    return follow(this.#event, (since) => this.#look(since), { on: hangsOn(this.#name) });
  }

  async #read(): Promise<void> {
    this.#show(await (await database()).get('bundle', [this.#event, this.#name]));
  }

  /** The same answer again moves nothing on the screen but its age. */
  #show(bundle: Bundle | undefined): void {
    if (!bundle?.etag || bundle.etag !== this.#etag) this.value = bundle?.value as T | undefined;
    this.#etag = bundle?.etag;
    this.at = bundle?.at;
    this.read = true;
  }

  async #look(since: number): Promise<boolean> {
    try {
      const { bundle } = await refresh(await database(), this.#event, this.#name, this.#fetch, since);
      this.#show(bundle);
      this.failed = undefined;
    } catch (error) {
      this.failed = error;
      this.read = true;
      return false;
    }
    return this.value?.current !== false && this.value?.pending !== true;
  }
}

/** Of which news of the server an answer may be another. */
function hangsOn(name: PageName): string[] {
  const kind = name.replace(/\/.*/, '');
  if (kind === 'forecast') return ['estimates', 'calibration'];
  return ['standings', 'truth', 'calibration'].includes(kind) ? [kind] : ['estimates'];
}
