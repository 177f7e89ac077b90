/** What one card shows. It stands apart from all others, so that a tap asks only the card that it changed. */
import { chosenOf, countOf, missedId, touched, type Sheet } from '$lib/game/sheet';
import type { Action, Foul } from '$lib/game/types';

export class Face {
  made = $state(0);
  missed = $state(0);
  /** Something was entered; until then an alliance's action is not answered. */
  said = $state(false);
  /** Of a choice: what was chosen, and whether more was tried. */
  option = $state<string | undefined>();
  tried = $state(false);

  readonly #thing: Action | Foul;

  constructor(thing: Action | Foul, sheet: Sheet) {
    this.#thing = thing;
    this.show(sheet);
  }

  /** Shows what the sheet says now; what is the same as before asks nobody. */
  show(sheet: Sheet): void {
    const { id } = this.#thing;
    this.made = countOf(sheet, id);
    this.missed = countOf(sheet, missedId(id));
    this.said = touched(sheet, id);
    if (!('kind' in this.#thing) || this.#thing.kind !== 'choice') return;
    const { option, tried } = chosenOf(sheet, this.#thing);
    this.option = option;
    this.tried = tried ?? false;
  }
}
