/** What comes in, by camera, reader or file: gathered, opened, taken in. */
import { sayError } from '$lib/api';
import { Collector, readCarryFile, readReceipt, receipt, receive, type Content, type Keys } from '$lib/carry';
import { knownTime, timeOf } from '$lib/figures';
import type { EventState } from '$lib/state/event.svelte';
import { now } from '$lib/ui/clock.svelte';
import { takeReceipt } from './shown';
import { sayTaken } from './words';

export interface Taken {
  bundle: string;
  said: string;
  /** Of records only: to be shown to who made them. */
  receipt?: string;
  problems: string[];
}

export class Intake {
  /** How far the bundle is that is being read. */
  progress = $state.raw<{ total: number; numbers: number[] } | undefined>();
  problem = $state('');
  /** Newest first. */
  taken = $state.raw<Taken[]>([]);

  readonly #event: EventState;
  readonly #keys: () => Keys | undefined;
  readonly #collector: Collector;
  readonly #finished = new Set<string>();
  #last = '';

  constructor(event: EventState, keys: () => Keys | undefined) {
    this.#event = event;
    this.#keys = keys;
    this.#collector = new Collector(event.id);
  }

  /** Takes the text of one code: a frame, or a receipt. Says whether it was of any use. */
  async add(text: string): Promise<boolean> {
    if (text === this.#last) return this.problem === ''; // the camera sees each code several times
    this.#last = text;
    try {
      if (readReceipt(text)) return await this.#receipt(text);
      const { bundle, whole } = this.#collector.add(text);
      this.problem = '';
      if (this.#finished.has(bundle)) {
        this.progress = undefined;
        return true;
      }
      this.progress = this.#collector.missing(bundle);
      if (whole) {
        // Nothing is awaited before this: the next frames of it are of a finished bundle.
        this.#finished.add(bundle);
        this.progress = undefined;
        await this.#open(bundle, await this.#collector.take(bundle)).catch((error: unknown) => {
          this.#finished.delete(bundle);
          throw error;
        });
      }
      return true;
    } catch (error) {
      this.problem = sayError(error);
      return false;
    }
  }

  async file(file: File): Promise<void> {
    this.problem = '';
    try {
      const { sealed, bundle } = await readCarryFile(
        new Uint8Array(await file.arrayBuffer()),
        this.#event.id
      );
      await this.#open(bundle, sealed);
    } catch (error) {
      this.problem = `${file.name}: ${sayError(error)}`;
    }
  }

  async #receipt(text: string): Promise<boolean> {
    const n = await takeReceipt(this.#event.id, text, this.#keys());
    this.problem =
      n === undefined
        ? 'This receipt is for another device, or for records that were shown long ago. Show them once more.'
        : '';
    if (n !== undefined) this.#add({ bundle: text, said: sayTaken('receipt', n), problems: [] });
    return n !== undefined;
  }

  async #open(bundle: string, sealed: Uint8Array<ArrayBuffer>): Promise<void> {
    const { role } = this.#event;
    if (!role) throw new Error('This event was not loaded yet, so nothing can be taken in.');
    const { content, problems } = await receive(sealed, this.#event.id, role, this.#keys());
    const said = await this.#take(content);
    const paid = content.what === 'home' ? { receipt: await receipt(bundle, this.#keys()) } : {};
    this.#add({ bundle, said, problems, ...paid });
  }

  async #take(content: Content): Promise<string> {
    const who = content.from.nickname;
    if (content.what === 'home')
      return sayTaken('home', await this.#event.takeIn(content.revisions), who, content.revisions.length);
    const given = { by: who, at: content.at };
    const { revisions, bundles } = await this.#event.takeOver(content.revisions, content.things, given);
    const at = knownTime(content.at);
    return sayTaken(
      'out',
      revisions,
      who,
      bundles.length,
      at && timeOf(at, now(), this.#event.summary?.zone)
    );
  }

  #add(taken: Taken): void {
    this.taken = [taken, ...this.taken.filter((t) => t.bundle !== taken.bundle)].slice(0, 20);
  }
}
