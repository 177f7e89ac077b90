// Whose turn it is on this device, and since when. Pure.

export interface TurnClock {
  /** Pick and captain; '': all picks are made. */
  turn: string;
  rehearsing: boolean;
  /** When the turn began, in milliseconds of this device; undefined: not seen. */
  began: number | undefined;
  /** While a rehearsal runs: the turn outside it. */
  outside?: { turn: string; began: number | undefined };
}

/**
 * The clock once the board shows `turn`; `was.began` is what the clock says now, for it may have been started
 * anew. A turn begins when this device sees it change. Nobody's turn changes by entering or leaving a rehearsal:
 * the clock outside goes on, unless somebody made moves meanwhile.
 */
export function follow(was: TurnClock | undefined, turn: string, rehearsing: boolean, at: number): TurnClock {
  if (!was) return { turn, rehearsing, began: undefined };
  const { began } = was;
  if (rehearsing && !was.rehearsing) return { turn, rehearsing, began, outside: { turn: was.turn, began } };
  const from = !rehearsing && was.outside ? was.outside : { turn: was.turn, began };
  return {
    turn,
    rehearsing,
    began: from.turn === turn ? from.began : turn ? at : undefined,
    ...(rehearsing && was.outside ? { outside: was.outside } : {})
  };
}
