package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// The media types of tables.
const (
	mediaJSON   = "application/json"
	mediaCSV    = "text/csv"
	mediaNDJSON = "application/x-ndjson"
)

// media is the media type of a body; JSON if the client did not say.
func media(contentType string) (string, error) {
	if contentType == "" {
		return mediaJSON, nil
	}
	name, params, err := mime.ParseMediaType(contentType)
	if charset := strings.ToLower(params["charset"]); err != nil || charset != "" && charset != "utf-8" {
		return "", wrongMedia.because("The Content-Type " + contentType + " is not read here; send UTF-8.")
	}
	return name, nil
}

// refuse reports what is wrong with a table: in a preview as an answer, else
// as a problem.
func refuse(preview bool, err error) (*reportOutput, error) {
	p := asProblem(err)
	if !preview || p.Type != invalid.because("").Type || len(p.Errors) == 0 {
		return nil, err
	}
	return &reportOutput{Body: report{Problems: p.Errors}}, nil
}

// readTeams reads a team list as JSON or CSV. JSON goes through the CSV form,
// so that one set of rules holds for both.
func readTeams(name, contentType string, body []byte) ([]record.Team, error) {
	form, err := media(contentType)
	if err != nil {
		return nil, err
	}
	switch form {
	case mediaCSV:
		return table.ReadTeams(name, bytes.NewReader(body))
	case mediaJSON:
		var list teamList
		if err := strictJSON(body, &list); err != nil {
			return nil, err
		}
		return eachRow("/teams", list.Teams, table.WriteTeams, table.ReadTeams)
	}
	return nil, wrongMedia.because("Send the team list as application/json or text/csv, not as " + form + ".")
}

// readMatches reads a schedule as JSON or CSV and checks it against the team
// list and the game.
func (s *Server) readMatches(ctx context.Context, event uuid.UUID, name, contentType string, body []byte) ([]record.Match, error) {
	form, err := media(contentType)
	if err != nil {
		return nil, err
	}
	g, _, err := s.effectiveGame(ctx, event)
	if err != nil {
		return nil, err
	}
	switch form {
	case mediaCSV:
		ev, err := s.loadTables(ctx, event, g, table.Files{Matches: &table.File{Name: name, R: bytes.NewReader(body)}})
		return ev.Matches, err
	case mediaJSON:
		var list matchList
		if err := strictJSON(body, &list); err != nil {
			return nil, err
		}
		matches, err := eachRow("/matches", list.Matches,
			func(w io.Writer, rows []record.Match) error { return table.WriteMatches(w, g, rows) },
			func(name string, r io.Reader) ([]record.Match, error) { return table.ReadMatches(name, r, g) })
		if err != nil {
			return nil, err
		}
		teams, _, err := s.opt.Store.Teams(ctx, event)
		if err != nil {
			return nil, err
		}
		ev, err := table.Event(g, known(teams), matches, nil, nil)
		return ev.Matches, pointAt(err, "/matches")
	}
	return nil, wrongMedia.because("Send the schedule as application/json or text/csv, not as " + form + ".")
}

// loadTables reads files and checks them against each other and against what
// the event has already: its team list and, unless the files have one, its
// schedule.
func (s *Server) loadTables(ctx context.Context, event uuid.UUID, g *game.Game, files table.Files) (record.Event, error) {
	teams, _, err := s.opt.Store.Teams(ctx, event)
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
		matches, _, err := s.opt.Store.Schedule(ctx, event)
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

// known is a team list to check against; an empty one says nothing.
func known(teams []record.Team) []record.Team {
	if len(teams) == 0 {
		return nil
	}
	return teams
}

// eachRow sends elements of a JSON list through their CSV form, one by one, so
// that an error is told at its element, and then together.
func eachRow[T any](list string, rows []T, write func(io.Writer, []T) error, read func(string, io.Reader) ([]T, error)) ([]T, error) {
	var items []problemItem
	through := func(pointer string, some []T) []T {
		var csv bytes.Buffer
		if err := write(&csv, some); err != nil {
			items = append(items, problemItem{Pointer: pointer, Message: err.Error()})
			return nil
		}
		out, err := read("", &csv)
		if err != nil {
			items = append(items, pointed(err, pointer)...)
		}
		return out
	}
	for i := range rows {
		through(fmt.Sprintf("%s/%d", list, i), rows[i:i+1])
	}
	if len(items) == 0 && len(rows) > 0 {
		rows = through(list, rows)
	}
	if len(items) > 0 {
		return nil, invalid.because("Nothing was changed. "+items[0].text(), items...)
	}
	return rows, nil
}

// pointAt gives errors of a table that came as JSON a place in the JSON.
func pointAt(err error, pointer string) error {
	if err == nil {
		return nil
	}
	items := pointed(err, pointer)
	return invalid.because("Nothing was changed. "+items[0].text(), items...)
}

func pointed(err error, pointer string) []problemItem {
	var es table.Errors
	if !errors.As(err, &es) {
		return []problemItem{{Pointer: pointer, Message: err.Error()}}
	}
	items := make([]problemItem, len(es))
	for i, e := range es {
		e.Line = 0
		items[i] = problemItem{Pointer: pointer, Message: strings.TrimPrefix(e.Error(), ": ")}
	}
	return items
}

// replaceTeams writes the team list. A team of the schedule cannot go.
func (s *Server) replaceTeams(ctx context.Context, event uuid.UUID, teams []record.Team, how store.Replace) (*reportOutput, error) {
	done, err := s.opt.Store.ReplaceTeams(ctx, event, teams, how)
	if errors.Is(err, store.ErrConflict) {
		missing, merr := s.missingTeams(ctx, event, teams)
		if merr != nil {
			return nil, merr
		}
		return refuse(how.DryRun, missing)
	}
	if err != nil {
		return nil, err
	}
	return &reportOutput{Body: reported(len(teams), done)}, nil
}

// missingTeams is the problem of a team list that lacks teams of the schedule.
func (s *Server) missingTeams(ctx context.Context, event uuid.UUID, teams []record.Team) (missing, err error) {
	matches, _, err := s.opt.Store.Schedule(ctx, event)
	if err != nil {
		return nil, err
	}
	listed := map[record.TeamID]bool{}
	for _, t := range teams {
		listed[t.ID] = true
	}
	var items []problemItem
	for _, m := range matches {
		for _, t := range slices.Concat(m.Red.Teams, m.Blue.Teams) {
			if !listed[t] {
				listed[t] = true
				items = append(items, problemItem{Message: fmt.Sprintf("team %s is missing from the list but plays in %s; add it, or change the schedule first", t, m.ID)})
			}
		}
	}
	if len(items) == 0 {
		return inUse.because("A team that is missing from the list is in the schedule; add it, or change the schedule first."), nil
	}
	return invalid.because("Nothing was changed. "+items[0].Message, items...), nil
}

// replaceMatches writes the schedule and the results in it.
func (s *Server) replaceMatches(ctx context.Context, event uuid.UUID, matches []record.Match, how store.Replace) (*reportOutput, error) {
	results, _, err := s.opt.Store.ResultRevisions(ctx, event, matches, viewerOf(ctx).by("import"))
	if err != nil {
		return nil, err
	}
	done, err := s.opt.Store.ReplaceSchedule(ctx, event, matches, results, how)
	if err != nil {
		return nil, err
	}
	return &reportOutput{Body: reported(2*len(matches), done)}, nil
}

// reported is a report of a write without problems.
func reported(rows int, done store.Replaced) report {
	return report{Rows: rows, Added: done.Added, Changed: done.Changed, Removed: done.Removed, Problems: []problemItem{}}
}
