/** What estimates were before something was mended, to show from what to what they moved; kept while the tab is open. */
import type { Estimates } from '$lib/api';

interface Before {
  dataNo: number;
  points: Record<string, number>;
}

export class Moves {
  readonly #key: string;
  #kept = $state.raw<Record<string, Before>>({});

  constructor(event: string) {
    this.#key = `sextant-mended/${event}`;
    try {
      this.#kept = JSON.parse(sessionStorage.getItem(this.#key) ?? '{}') as Record<string, Before>;
    } catch {
      // Storage is switched off, or holds something else: then only what comes is shown.
    }
  }

  /** Notes where the robots stand now, under the records that are about to be mended. */
  note(records: readonly string[], teams: readonly string[], estimates: Estimates | undefined): void {
    if (!estimates) return;
    const points: Record<string, number> = {};
    for (const e of estimates.teams) if (teams.includes(e.team)) points[e.team] = e.points;
    const before = { dataNo: estimates.data_no, points };
    this.#kept = { ...this.#kept, ...Object.fromEntries(records.map((id) => [id, before])) };
    try {
      sessionStorage.setItem(this.#key, JSON.stringify(this.#kept));
    } catch {
      // Full or switched off: it is a convenience.
    }
  }

  /** From what to what each robot moved; pending: the estimates do not know of it yet. undefined: not noted. */
  of(
    records: readonly string[],
    estimates: Estimates | undefined
  ): { pending: boolean; moves: { team: string; from: number; to: number }[] } | undefined {
    const noted = records.flatMap((id) => this.#kept[id] ?? []);
    const [first] = noted;
    if (!first || !estimates) return undefined;
    const pending = !estimates.current || estimates.data_no <= first.dataNo;
    const from = Object.assign({}, ...noted.map((b) => b.points)) as Record<string, number>;
    const now = new Map(estimates.teams.map((e) => [e.team, e.points]));
    const moves = Object.entries(from).flatMap(([team, was]) => {
      const to = now.get(team);
      return to === undefined ? [] : [{ team, from: was, to }];
    });
    return { pending, moves };
  }
}
