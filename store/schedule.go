package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sextant/stats/record"
)

// Replace says how a whole table is written.
type Replace struct {
	IfVersion *int64 // nil: whatever is there; else ErrStale unless that is the version
	DryRun    bool   // tell what would change, and change nothing
}

// Replaced says what a write of a whole table did, or would do.
type Replaced struct {
	Added, Changed, Removed int
	ChangeNo                int64 // the event's last change number after it
}

// errDryRun rolls a transaction back that was only to tell what it would do.
var errDryRun = errors.New("dry run")

// replace runs fn, and rolls back what it did if it was only to tell.
func (db *DB) replace(ctx context.Context, event uuid.UUID, how Replace, fn func(pgx.Tx) (Replaced, error)) (done Replaced, err error) {
	err = db.tx(ctx, pgx.TxOptions{}, func(tx pgx.Tx) error {
		if done, err = fn(tx); err == nil && how.DryRun {
			err = errDryRun
		}
		return err
	})
	switch {
	case errors.Is(err, errDryRun):
		done.ChangeNo, err = readChangeNo(ctx, db.pool, event)
	case err == nil && done != (Replaced{ChangeNo: done.ChangeNo}):
		db.hints.add(event)
	}
	if err != nil {
		return Replaced{}, err
	}
	return done, nil
}

// checkVersion compares what a caller has read with what is there. The event
// must be locked.
func checkVersion(ctx context.Context, tx pgx.Tx, event uuid.UUID, kind string, how Replace) error {
	if how.IfVersion == nil {
		return nil
	}
	now, err := versionOf(ctx, tx, event, kind)
	if err == nil && now != *how.IfVersion {
		return ErrStale
	}
	return err
}

// Schedule lists all plays of all matches in playing order, with the results
// that count now; a play that only its result tells of is among them. Times are
// in the event's zone. version is the change number of the schedule alone:
// results move DataNo of the event, not this.
// ErrNotFound: no such event.
func (db *DB) Schedule(ctx context.Context, event uuid.UUID) (matches []record.Match, version int64, err error) {
	defer wrap(&err, "read the schedule of event %s", event)
	err = db.tx(ctx, snapshot, func(tx pgx.Tx) error {
		ev, err := readEvent(ctx, tx, event)
		if err != nil {
			return err
		}
		if version, err = versionOf(ctx, tx, event, ChangeMatches); err != nil {
			return err
		}
		if matches, err = readMatches(ctx, tx, event, ev.Zone); err != nil {
			return err
		}
		matches, err = applyResults(ctx, tx, event, matches)
		return err
	})
	return matches, version, err
}

// play names one play of a match.
type play struct {
	match  record.MatchID
	number int
}

func playOf(m *record.Match) play { return play{m.ID, record.PlayOf(m.Play)} }

// readMatches reads the schedule without results, in playing order.
func readMatches(ctx context.Context, q querier, event uuid.UUID, zone string) ([]record.Match, error) {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		loc = time.UTC // a zone that this machine does not know; the instants stay right
	}
	rows, err := q.Query(ctx, `
		select
			m.stage,
			m.number,
			m.play,
			m.starts_at,
			s.alliance,
			s.team,
			s.surrogate
		from match m
		left join seat s on s.event_id = m.event_id and s.stage = m.stage and s.number = m.number and s.play = m.play
		where m.event_id = $1
		order by m.stage, m.number, m.play, s.alliance, s.station`, event)
	if err != nil {
		return nil, err
	}
	out := []record.Match{}
	var (
		m         record.Match
		startsAt  *time.Time
		side      *record.Colour
		team      *record.TeamID
		surrogate *bool
	)
	_, err = pgx.ForEachRow(rows, []any{&m.ID.Stage, &m.ID.Number, &m.Play, &startsAt, &side, &team, &surrogate}, func() error {
		if n := len(out); n == 0 || playOf(&out[n-1]) != playOf(&m) {
			next := m
			if startsAt != nil {
				next.StartsAt = startsAt.In(loc)
			}
			next.Red.Teams, next.Blue.Teams = []record.TeamID{}, []record.TeamID{}
			out = append(out, next)
		}
		if side != nil {
			a := out[len(out)-1].Side(*side)
			a.Teams = append(a.Teams, *team)
			if *surrogate {
				a.Surrogates = append(a.Surrogates, *team)
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(out, func(a, b record.Match) int { return a.ID.Compare(b.ID) })
	return out, nil
}

// applyResults puts the results that count on the matches and returns these
// with the plays that only a result tells of. A result whose match is not there
// waits for it.
func applyResults(ctx context.Context, q querier, event uuid.UUID, matches []record.Match) ([]record.Match, error) {
	results, err := readBodies[record.ResultBody](ctx, q, event, record.KindResult)
	if err != nil {
		return nil, err
	}
	matches = withReplays(matches, results)
	at := make(map[play]*record.Match, len(matches))
	for i := range matches {
		at[playOf(&matches[i])] = &matches[i]
	}
	// Where two records speak of one result, the one made for it counts.
	slices.SortStableFunc(results, func(a, b bodyOf[record.ResultBody]) int {
		return compareBool(resultRecord(event, a), resultRecord(event, b))
	})
	for _, r := range results {
		m := at[play{r.body.Match, record.PlayOf(r.body.Play)}]
		if m != nil && (r.body.Alliance == record.Red || r.body.Alliance == record.Blue) {
			r.body.Apply(m.Side(r.body.Alliance))
		}
	}
	return matches, nil
}

// withReplays adds the plays that have a result and are not in the schedule: the
// robots of the last planned play meet again, at a time that nobody planned. So a
// replay is entered by its result alone, without a network too.
func withReplays(matches []record.Match, results []bodyOf[record.ResultBody]) []record.Match {
	planned := make(map[record.MatchID]*record.Match, len(matches))
	known := make(map[play]bool, len(matches))
	for i := range matches {
		planned[matches[i].ID] = &matches[i] // in playing order: the last play stays
		known[playOf(&matches[i])] = true
	}
	lineUp := func(a *record.Alliance) record.Alliance {
		return record.Alliance{Teams: a.Teams, Surrogates: a.Surrogates}
	}
	out := slices.Clip(matches) // the pointers above must stay good
	for _, r := range results {
		p := play{r.body.Match, record.PlayOf(r.body.Play)}
		m := planned[p.match]
		if m == nil || known[p] || r.body.Discarded {
			continue
		}
		known[p] = true
		out = append(out, record.Match{ID: p.match, Play: p.number, Red: lineUp(&m.Red), Blue: lineUp(&m.Blue)})
	}
	slices.SortStableFunc(out, func(a, b record.Match) int {
		return cmp.Or(a.ID.Compare(b.ID), cmp.Compare(a.Play, b.Play))
	})
	return out
}

func resultRecord(event uuid.UUID, r bodyOf[record.ResultBody]) bool {
	return r.id == record.ResultID(event, r.body.Match, r.body.Play, r.body.Alliance)
}

// compareBool orders false before true.
func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// ReplaceSchedule writes the schedule and stores, in the same transaction, the
// results that came with it (see ResultRevisions). Results in matches are not
// read. A match that is not in matches goes; its records stay and count again
// when it comes back. A schedule that is the same makes no entry in the feed.
// Replaced counts plays of matches whose line-up, time or stored result
// differs. ErrNotFound; ErrStale; ErrInvalid: a team is not in the list, twice
// in a match, or a match is twice in the schedule.
func (db *DB) ReplaceSchedule(ctx context.Context, event uuid.UUID, matches []record.Match, results []Incoming, how Replace) (_ Replaced, err error) {
	defer wrap(&err, "replace the schedule of event %s", event)
	if err := checkLineUps(matches); err != nil {
		return Replaced{}, err
	}
	return db.replace(ctx, event, how, func(tx pgx.Tx) (Replaced, error) {
		in, err := takeIn(ctx, tx, event, results)
		if err != nil {
			return Replaced{}, err
		}
		for _, o := range in.outcomes {
			if o.Verdict == Refused {
				return Replaced{}, fmt.Errorf("%w: a result: %s", ErrInvalid, o.Reason)
			}
		}
		ev, err := lockEvent(ctx, tx, event)
		if err != nil {
			return Replaced{}, err
		}
		if err := checkVersion(ctx, tx, event, ChangeMatches, how); err != nil {
			return Replaced{}, err
		}
		old, err := readMatches(ctx, tx, event, ev.Zone)
		if err != nil {
			return Replaced{}, err
		}
		done, changed := compareSchedules(old, matches)
		moved := in.moved
		if done != (Replaced{}) {
			moved = true
			if err := writeMatches(ctx, tx, event, matches); err != nil {
				return Replaced{}, err
			}
			in.changes = append(in.changes, change{kind: ChangeMatches, audience: forAll})
		}
		for _, c := range in.changes {
			if c.revision == nil {
				continue
			}
			if p, ok := playIn(c.revision.Body); ok && !changed[p] {
				changed[p] = true
				done.Changed++
			}
		}
		done.ChangeNo, err = db.publish(ctx, tx, event, moved, in.changes)
		return done, err
	})
}

// checkLineUps checks what no constraint of the database says well.
func checkLineUps(matches []record.Match) error {
	seen := map[play]bool{}
	for i := range matches {
		m := &matches[i]
		if p := playOf(m); seen[p] {
			return fmt.Errorf("%w: play %d of match %s is twice in the schedule", ErrInvalid, p.number, p.match)
		} else {
			seen[p] = true
		}
		teams := map[record.TeamID]bool{}
		for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
			for _, t := range a.Teams {
				if teams[t] {
					return fmt.Errorf("%w: team %s is twice in match %s", ErrInvalid, t, m.ID)
				}
				teams[t] = true
			}
			for _, t := range a.Surrogates {
				if !slices.Contains(a.Teams, t) {
					return fmt.Errorf("%w: team %s is a surrogate in match %s and does not play for that alliance", ErrInvalid, t, m.ID)
				}
			}
		}
	}
	return nil
}

// compareSchedules counts the plays that differ, and names those that are new
// or changed.
func compareSchedules(old, now []record.Match) (Replaced, map[play]bool) {
	var done Replaced
	changed := map[play]bool{}
	before := make(map[play]*record.Match, len(old))
	for i := range old {
		before[playOf(&old[i])] = &old[i]
	}
	kept := 0
	for i := range now {
		m, p := &now[i], playOf(&now[i])
		o := before[p]
		switch {
		case o == nil:
			done.Added++
		case sameLineUp(o, m):
			kept++
			continue
		default:
			kept++
			done.Changed++
		}
		changed[p] = true
	}
	done.Removed = len(old) - kept
	return done, changed
}

func sameLineUp(a, b *record.Match) bool {
	same := a.StartsAt.Truncate(time.Microsecond).Equal(b.StartsAt.Truncate(time.Microsecond))
	for _, side := range []record.Colour{record.Red, record.Blue} {
		x, y := a.Side(side), b.Side(side)
		same = same && slices.Equal(x.Teams, y.Teams)
		for _, t := range x.Teams {
			same = same && slices.Contains(x.Surrogates, t) == slices.Contains(y.Surrogates, t)
		}
	}
	return same
}

// writeMatches puts a schedule in the place of what is there.
func writeMatches(ctx context.Context, tx pgx.Tx, event uuid.UUID, matches []record.Match) error {
	if _, err := tx.Exec(ctx, `delete from match where event_id = $1`, event); err != nil {
		return err
	}
	type seat struct {
		play
		side      record.Colour
		station   int
		team      record.TeamID
		surrogate bool
	}
	var seats []seat
	for i := range matches {
		m := &matches[i]
		for _, side := range []record.Colour{record.Red, record.Blue} {
			a := m.Side(side)
			for k, t := range a.Teams {
				seats = append(seats, seat{playOf(m), side, k + 1, t, slices.Contains(a.Surrogates, t)})
			}
		}
	}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{"match"}, []string{"event_id", "stage", "number", "play", "starts_at"},
		pgx.CopyFromSlice(len(matches), func(i int) ([]any, error) {
			m := &matches[i]
			var startsAt *time.Time
			if !m.StartsAt.IsZero() {
				startsAt = &m.StartsAt
			}
			return []any{event, string(m.ID.Stage), m.ID.Number, playOf(m).number, startsAt}, nil
		}))
	if err != nil {
		return err
	}
	_, err = tx.CopyFrom(ctx, pgx.Identifier{"seat"},
		[]string{"event_id", "stage", "number", "play", "alliance", "station", "team", "surrogate"},
		pgx.CopyFromSlice(len(seats), func(i int) ([]any, error) {
			s := seats[i]
			return []any{event, string(s.match.Stage), s.match.Number, s.number, string(s.side), s.station, string(s.team), s.surrogate}, nil
		}))
	if violates(err, "seat_team_fkey") {
		return fmt.Errorf("%w: a team of the schedule is not in the team list: %w", ErrInvalid, err)
	}
	return err
}

// violates reports whether err is the failure of a constraint.
func violates(err error, constraint string) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.ConstraintName == constraint
}
