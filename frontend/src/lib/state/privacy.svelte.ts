/** The privacy screen: one tap and nobody reads over a shoulder. It stays over a reload, for this tab. */
const KEY = 'sextant-hidden';

const read = (): boolean => {
  try {
    return sessionStorage.getItem(KEY) === 'yes';
  } catch {
    return false; // storage is switched off
  }
};

class Privacy {
  #hidden = $state(read());

  get hidden(): boolean {
    return this.#hidden;
  }
  set hidden(yes: boolean) {
    this.#hidden = yes;
    try {
      if (yes) sessionStorage.setItem(KEY, 'yes');
      else sessionStorage.removeItem(KEY);
    } catch {
      // Private mode: it holds until the page is closed.
    }
  }
}

export const privacy = new Privacy();
