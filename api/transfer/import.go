package transfer

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// File is a CSV file to take into an event.
type File struct {
	Table  string
	Name   string // for errors
	Title  string // of a new pick list
	Body   []byte
	List   uuid.UUID // with PickList: which to fill; zero: a new one
	By     store.By
	DryRun bool // tell what would be done, and do nothing
}

// Done says what an import did, or would do.
type Done struct {
	store.Replaced
	Rows    int
	List    uuid.UUID       // with PickList: the one that was filled
	Refused []store.Outcome // rows that the database cannot keep
}

// Import takes a file into an event: all of it, or with an error nothing.
// Teams and matches replace what is there; rows of the others are revisions
// against the records that are there. Errors: table.Errors says what is wrong
// with the file, store.ErrNotFound that there is no such event, ErrNoList that
// there is no such pick list, ErrFrozen that it is a dated copy.
func Import(ctx context.Context, db *store.DB, event uuid.UUID, f File) (Done, error) {
	g, _, err := Game(ctx, db, event)
	if err != nil {
		return Done{}, err
	}
	how := store.Replace{DryRun: f.DryRun}
	switch f.Table {
	case Teams:
		teams, err := table.ReadTeams(f.Name, bytes.NewReader(f.Body))
		if err != nil {
			return Done{}, err
		}
		return ReplaceTeams(ctx, db, event, f.Name, teams, how)
	case Matches:
		matches, err := ReadMatches(ctx, db, event, g, f.Name, f.Body)
		if err != nil {
			return Done{}, err
		}
		return ReplaceMatches(ctx, db, event, matches, f.By, how)
	}
	return importRecords(ctx, db, event, g, f)
}

// ReadMatches reads a schedule and checks it against the event's team list.
// Its errors about the file are table.Errors.
func ReadMatches(ctx context.Context, db *store.DB, event uuid.UUID, g *game.Game, name string, csv []byte) ([]record.Match, error) {
	ev, err := load(ctx, db, event, g, table.Files{Matches: &table.File{Name: name, R: bytes.NewReader(csv)}})
	return ev.Matches, err
}

func (f File) open() *table.File { return &table.File{Name: f.Name, R: bytes.NewReader(f.Body)} }

// importRecords turns the rows of a table into revisions and stores them.
func importRecords(ctx context.Context, db *store.DB, event uuid.UUID, g *game.Game, f File) (Done, error) {
	revisions, done, err := revisionsOf(ctx, db, event, g, f)
	if err != nil || f.DryRun || len(revisions) == 0 {
		return done, err
	}
	outcomes, _, err := db.Append(ctx, event, revisions)
	if err != nil {
		return Done{}, err
	}
	for _, o := range outcomes {
		if o.Verdict == store.Refused {
			done.Refused = append(done.Refused, o)
		}
	}
	return done, nil
}

// revisionsOf reads a table of records. Nothing is stored.
func revisionsOf(ctx context.Context, db *store.DB, event uuid.UUID, g *game.Game, f File) (revisions []store.Incoming, done Done, err error) {
	switch f.Table {
	case Observations:
		ev, err := load(ctx, db, event, g, table.Files{Observations: f.open()})
		if err != nil {
			return nil, done, err
		}
		done.Rows = len(ev.Observations)
		revisions, done.Replaced, err = db.ObservationRevisions(ctx, event, g, ev.Observations, f.By)
		return revisions, done, err
	case Marks:
		ev, err := load(ctx, db, event, g, table.Files{Marks: f.open()})
		if err != nil {
			return nil, done, err
		}
		done.Rows = len(ev.Marks)
		revisions, done.Replaced, err = db.MarkRevisions(ctx, event, ev.Marks, f.By)
		return revisions, done, err
	case PickList:
		var drafts []store.Draft
		if done.List, drafts, err = pickListDrafts(ctx, db, event, f); err != nil {
			return nil, done, err
		}
		done.Rows = len(drafts)
		revisions, done.Replaced, err = db.Revise(ctx, event, drafts, f.By)
		return revisions, done, err
	}
	return nil, done, unknownTable(f.Table)
}

// load reads files and checks them against each other and against what the
// event has already: its team list and, unless the files have one, its
// schedule.
func load(ctx context.Context, db *store.DB, event uuid.UUID, g *game.Game, files table.Files) (record.Event, error) {
	teams, _, err := db.Teams(ctx, event)
	if err != nil {
		return record.Event{}, err
	}
	if len(teams) > 0 {
		var list bytes.Buffer
		if err := table.WriteTeams(&list, teams); err != nil {
			return record.Event{}, fmt.Errorf("write teams as CSV: %w", err)
		}
		files.Teams = &table.File{Name: "the event's team list", R: &list}
	}
	if files.Matches == nil {
		matches, _, err := db.Schedule(ctx, event)
		if err != nil {
			return record.Event{}, err
		}
		var schedule bytes.Buffer
		if err := table.WriteMatches(&schedule, g, matches); err != nil {
			return record.Event{}, fmt.Errorf("write the schedule as CSV: %w", err)
		}
		files.Matches = &table.File{Name: "the event's schedule", R: &schedule}
	}
	return table.Load(g, files)
}

// ReplaceTeams writes the team list. A team of the schedule cannot go: the
// error is then table.Errors about file, or store.ErrConflict if the schedule
// has changed meanwhile.
func ReplaceTeams(ctx context.Context, db *store.DB, event uuid.UUID, file string, teams []record.Team, how store.Replace) (Done, error) {
	done, err := db.ReplaceTeams(ctx, event, teams, how)
	if errors.Is(err, store.ErrConflict) {
		missing, merr := missingTeams(ctx, db, event, file, teams)
		if merr != nil {
			return Done{}, merr
		}
		if len(missing) > 0 {
			return Done{}, missing
		}
	}
	if err != nil {
		return Done{}, err
	}
	return Done{Rows: len(teams), Replaced: done}, nil
}

// missingTeams are the teams of the schedule that a team list lacks.
func missingTeams(ctx context.Context, db *store.DB, event uuid.UUID, file string, teams []record.Team) (missing table.Errors, err error) {
	matches, _, err := db.Schedule(ctx, event)
	if err != nil {
		return nil, err
	}
	listed := map[record.TeamID]bool{}
	for _, t := range teams {
		listed[t.ID] = true
	}
	for _, m := range matches {
		for _, t := range slices.Concat(m.Red.Teams, m.Blue.Teams) {
			if !listed[t] {
				listed[t] = true
				missing = append(missing, table.Error{File: file, Message: fmt.Sprintf("team %s is missing from the list but plays in %s; add it, or change the schedule first", t, m.ID)})
			}
		}
	}
	return missing, nil
}

// ReplaceMatches writes the schedule and the results in it. A match without a
// result says nothing about one that is there.
func ReplaceMatches(ctx context.Context, db *store.DB, event uuid.UUID, matches []record.Match, by store.By, how store.Replace) (Done, error) {
	results, _, err := db.ResultRevisions(ctx, event, matches, by)
	if err != nil {
		return Done{}, err
	}
	done, err := db.ReplaceSchedule(ctx, event, matches, results, how)
	if err != nil {
		return Done{}, err
	}
	return Done{Rows: 2 * len(matches), Replaced: done}, nil
}
