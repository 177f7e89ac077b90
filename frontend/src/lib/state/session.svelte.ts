/** Who uses this browser: kept locally, so that the app opens without a network. */
import {
  NoAnswer,
  session as remote,
  setUp as setUpRemote,
  type EventOfMember,
  type Session
} from '$lib/api';
import { announce, askToKeep, meta, newId, onChange, setMeta } from '$lib/offline';

const KEY = 'session';
const DEVICE = 'device';
const NICKNAME = 'nickname';

export class SessionState {
  /** What the server last said; undefined: never asked. */
  value = $state.raw<Session | undefined>();
  /** The local copy was read. */
  read = $state(false);
  /** The server was asked since the start and answered. */
  confirmed = $state(false);

  readonly signedIn = $derived(Boolean(this.value?.account || this.value?.event_id));
  readonly events = $derived<EventOfMember[]>(this.value?.events ?? []);

  #loading: Promise<void> | undefined;

  /** Reads the local copy, then asks the server. Resolves after the first; `fresh` waits for both. */
  async load(fresh = false): Promise<void> {
    if (!this.read) {
      this.value = await meta<Session>(KEY);
      this.read = true;
      onChange((change) => {
        // Another tab signed in or out.
        if (change.event === '' && change.bundles?.includes(KEY))
          void meta<Session>(KEY).then((s) => (this.value = s));
      });
    }
    this.#loading ??= this.#ask().finally(() => (this.#loading = undefined));
    if (fresh || !this.value) await this.#loading;
    else this.#loading.catch(() => undefined);
  }

  async #ask(): Promise<void> {
    try {
      await this.#keep(await remote.read());
    } catch (error) {
      if (!(error instanceof NoAnswer) || !this.value) throw error;
    }
  }

  async signIn(name: string, password: string): Promise<void> {
    await this.#keep(await remote.signIn(name, password));
  }

  async setUp(secret: string, name: string, password: string): Promise<void> {
    await this.#keep(await setUpRemote(secret, name, password));
  }

  async join(code: string, nickname: string): Promise<void> {
    await this.#keep(await remote.join(code, nickname, await device()));
    if (nickname) await setMeta(NICKNAME, nickname);
    // Ask that unsent records are never thrown away when the disk runs short.
    await askToKeep();
  }

  async end(): Promise<void> {
    await remote.end();
    await this.#keep(undefined);
  }

  async #keep(session: Session | undefined): Promise<void> {
    this.value = session;
    this.confirmed = session !== undefined;
    await setMeta(KEY, session);
    announce({ event: '', bundles: [KEY] });
  }

  /** The nickname that was used on this device before. */
  lastNickname = (): Promise<string | undefined> => meta<string>(NICKNAME);
}

/** The name that this device chose for itself. */
export async function device(): Promise<string> {
  const known = await meta<string>(DEVICE);
  if (known) return known;
  const made = newId();
  await setMeta(DEVICE, made);
  return made;
}

export const session = new SessionState();
