/** Everything that the screens of one robot show, from the event on this device. */
import { compareMatches, sharedScale } from '$lib/figures';
import type { EventState } from '$lib/state/event.svelte';
import { actionFigures } from '$lib/game/actions';
import { figure, views } from './columns';
import { componentSquares } from './least-squares';
import { matchRows, meetings, remarks, type MatchRow } from './profile';
import { joinRows, placeOf } from './rows';
import { summaryOf, timelineOf, tripGaps } from './seen';

export class Robot {
  readonly team: string;
  readonly event: EventState;

  constructor(event: EventState, team: string) {
    this.event = event;
    this.team = team;
  }

  readonly seen = $derived.by(() =>
    this.event
      .records('observation')
      .map((r) => ({ id: r.record_id, body: r.body, conflict: r.conflict, unsent: false }))
  );
  readonly rows = $derived.by(() => matchRows(this.team, this.event.matches, this.seen));
  readonly squares = $derived.by(() =>
    componentSquares(
      this.event.matches,
      (this.event.game?.components ?? []).map((c) => c.id)
    )
  );
  readonly all = $derived.by(() =>
    joinRows(
      this.event.teams,
      this.event.analysis.estimates?.teams,
      this.event.ourTeam,
      this.event.game && new Map([[this.team, summaryOf(this.event.game, this.rows)]]),
      this.squares
    )
  );
  readonly row = $derived.by(() => this.all.find((r) => r.team === this.team));
  readonly estimate = $derived.by(() => this.row?.estimate);
  readonly pit = $derived.by(() => this.event.teams.find((t) => t.team === this.team)?.pit);
  readonly place = $derived.by(() => placeOf(this.all, this.team));
  readonly figures = $derived.by(() => (this.event.game ? actionFigures(this.event.game) : []));

  readonly scale = $derived.by(() =>
    sharedScale(
      this.all.flatMap((r) =>
        views.flatMap((v) => {
          const f = figure(r, v.id);
          return f ? [{ mean: f.mean, sd: f.sd ?? 0 }] : [];
        })
      )
    )
  );
  /** Of each action the reach of the best: all robots' bars of it share that scale. */
  readonly reach = $derived.by(() => {
    const out = new Map<string, number>();
    for (const r of this.all) {
      for (const [key, a] of Object.entries(r.estimate?.actions ?? {})) {
        out.set(key, Math.max(out.get(key) ?? 0, a.mean + 1.96 * a.sd));
      }
    }
    return out;
  });

  readonly marks = $derived.by(() =>
    this.event
      .records('mark')
      .filter((m) => m.body.team === this.team && !m.body.discarded)
      .sort((a, b) => compareMatches(a.body.match, b.body.match))
  );
  readonly notes = $derived.by(() =>
    this.event.records('note').filter((n) => n.body.team === this.team && !n.body.removed)
  );
  /** What scouts wrote, and what the questions tell, by match. */
  readonly scoutNotes = $derived.by(() => {
    const game = this.event.game;
    return this.rows.flatMap((r) =>
      r.seen.flatMap((s) => {
        const said = game ? remarks(game, s.body) : [];
        const note = s.body.note?.trim();
        return said.length > 0 || note ? [{ match: r.match, scout: s.body.scout, said, note, id: s.id }] : [];
      })
    );
  });
  readonly coming = $derived.by(() => meetings(this.team, this.event.ourTeam, this.event.matches));

  /** Matches of every team with the records of it; for what opponents did. */
  readonly byTeam = $derived.by(() => {
    const teams = new Set(this.rows.flatMap((r) => r.opponents));
    const out = new Map<string, MatchRow[]>();
    for (const t of teams) out.set(t, matchRows(t, this.event.matches, this.seen));
    return out;
  });
  readonly timelines = $derived.by(() => {
    const game = this.event.game;
    return game ? this.rows.flatMap((r) => timelineOf(game, r) ?? []) : [];
  });
  /** Seconds between trips, by match. */
  readonly gaps = $derived.by(() => {
    const game = this.event.game;
    return game ? this.timelines.map((t) => ({ match: t.match, gaps: tripGaps(game, t) })) : [];
  });
}
