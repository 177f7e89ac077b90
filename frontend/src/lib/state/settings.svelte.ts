/** How this device likes it: kept in the browser, never sent. */
export type Theme = 'auto' | 'light' | 'dark';

const KEY = 'sextant-settings';

interface Kept {
  theme: Theme;
  leftHanded: boolean;
  /** Is asked about all robots of a match after it. */
  judges: boolean;
  /** Quarter turns of the field's drawing, to the side where this device's user sits. */
  turns: 0 | 1 | 2 | 3;
  /** The place whose robot this device's user watches match after match. */
  seat?: { alliance: 'red' | 'blue'; station: number } | undefined;
}

function read(): Kept {
  const plain: Kept = { theme: 'auto', leftHanded: false, judges: false, turns: 0 };
  try {
    return { ...plain, ...(JSON.parse(localStorage.getItem(KEY) ?? '{}') as Partial<Kept>) };
  } catch {
    return plain; // storage is switched off, or holds something else
  }
}

class Settings {
  #kept = $state(read());

  get theme(): Theme {
    return this.#kept.theme;
  }
  set theme(theme: Theme) {
    this.#kept.theme = theme;
    this.#write();
    this.apply();
  }
  get leftHanded(): boolean {
    return this.#kept.leftHanded;
  }
  set leftHanded(left: boolean) {
    this.#kept.leftHanded = left;
    this.#write();
  }
  get turns(): Kept['turns'] {
    return this.#kept.turns;
  }
  set turns(turns: Kept['turns']) {
    this.#kept.turns = turns;
    this.#write();
  }

  get seat(): Kept['seat'] {
    return this.#kept.seat;
  }
  set seat(seat: Kept['seat']) {
    this.#kept.seat = seat;
    this.#write();
  }

  get judges(): boolean {
    return this.#kept.judges;
  }
  set judges(yes: boolean) {
    this.#kept.judges = yes;
    this.#write();
  }

  /** Puts the theme on the page. */
  apply(): void {
    if (this.theme === 'auto') delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = this.theme;
  }

  #write(): void {
    try {
      localStorage.setItem(KEY, JSON.stringify(this.#kept));
    } catch {
      // Private mode: it holds until the page is closed.
    }
  }
}

export const settings = new Settings();
