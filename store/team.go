package store

import (
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Teams lists the teams of an event in order of number, with the change number
// of the list for ETag and If-Match. ErrNotFound: no such event.
func (db *DB) Teams(ctx context.Context, event uuid.UUID) (teams []record.Team, version int64, err error) {
	defer wrap(&err, "list the teams of event %s", event)
	err = db.tx(ctx, snapshot, func(tx pgx.Tx) error {
		if _, err := readChangeNo(ctx, tx, event); err != nil {
			return err
		}
		if version, err = versionOf(ctx, tx, event, ChangeTeams); err != nil {
			return err
		}
		teams, err = readTeams(ctx, tx, event)
		return err
	})
	return teams, version, err
}

func readTeams(ctx context.Context, q querier, event uuid.UUID) ([]record.Team, error) {
	rows, err := q.Query(ctx, `
		select team, name, pit
		from team
		where event_id = $1`, event)
	if err != nil {
		return nil, err
	}
	teams, err := pgx.CollectRows(rows, pgx.RowToStructByPos[record.Team])
	if err != nil {
		return nil, err
	}
	slices.SortFunc(teams, func(a, b record.Team) int { return record.CompareTeams(a.ID, b.ID) })
	return teams, nil
}

// ReplaceTeams writes the team list. A list that is the same makes no entry in
// the feed. ErrNotFound; ErrStale; ErrConflict: a team that is in the schedule
// would go; ErrInvalid: a team is twice in the list or no team number.
func (db *DB) ReplaceTeams(ctx context.Context, event uuid.UUID, teams []record.Team, how Replace) (_ Replaced, err error) {
	defer wrap(&err, "replace the teams of event %s", event)
	wanted := make(map[record.TeamID]record.Team, len(teams))
	for _, t := range teams {
		if !record.ValidTeam(string(t.ID)) {
			return Replaced{}, fmt.Errorf("%w: %.40q is no team number", ErrInvalid, t.ID)
		}
		if _, twice := wanted[t.ID]; twice {
			return Replaced{}, fmt.Errorf("%w: team %s is twice in the list", ErrInvalid, t.ID)
		}
		wanted[t.ID] = t
	}
	return db.replace(ctx, event, how, func(tx pgx.Tx) (done Replaced, err error) {
		if _, err := lockEvent(ctx, tx, event); err != nil {
			return done, err
		}
		if err := checkVersion(ctx, tx, event, ChangeTeams, how); err != nil {
			return done, err
		}
		old, err := readTeams(ctx, tx, event)
		if err != nil {
			return done, err
		}
		var gone, ids, names, pits []string
		before := make(map[record.TeamID]record.Team, len(old))
		for _, t := range old {
			before[t.ID] = t
			if _, stays := wanted[t.ID]; !stays {
				gone = append(gone, string(t.ID))
			}
		}
		for _, t := range teams {
			o, there := before[t.ID]
			switch {
			case !there:
				done.Added++
			case o != t:
				done.Changed++
			default:
				continue
			}
			ids, names, pits = append(ids, string(t.ID)), append(names, t.Name), append(pits, t.Pit)
		}
		done.Removed = len(gone)
		if done == (Replaced{}) {
			done.ChangeNo, err = readChangeNo(ctx, tx, event)
			return done, err
		}
		if _, err := tx.Exec(ctx, `delete from team where event_id = $1 and team = any($2)`, event, gone); err != nil {
			if violates(err, "seat_team_fkey") {
				err = fmt.Errorf("%w: a team that is not in the new list is in the schedule: %w", ErrConflict, err)
			}
			return done, err
		}
		_, err = tx.Exec(ctx, `
			insert into team (event_id, team, name, pit)
			select $1, t.team, t.name, t.pit
			from unnest($2::text[], $3::text[], $4::text[]) as t (team, name, pit)
			on conflict (event_id, team) do update set name = excluded.name, pit = excluded.pit`,
			event, ids, names, pits)
		if err != nil {
			return done, err
		}
		// Names and pits are no matter of an analysis, which teams there are is.
		moved := done.Added+done.Removed > 0
		done.ChangeNo, err = db.publish(ctx, tx, event, moved, []change{{kind: ChangeTeams, audience: forAll}})
		return done, err
	})
}
