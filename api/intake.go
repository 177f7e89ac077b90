package api

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"strings"

	"github.com/google/uuid"

	"sextant/api/transfer"
	"sextant/stats/record"
	"sextant/stats/table"
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
	g, _, err := transfer.Game(ctx, s.opt.Store, event)
	if err != nil {
		return nil, err
	}
	switch form {
	case mediaCSV:
		return transfer.ReadMatches(ctx, s.opt.Store, event, g, name, body)
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

// written answers a write of a table.
func written(preview bool, done transfer.Done, err error) (*reportOutput, error) {
	if err != nil {
		return refuse(preview, err)
	}
	return &reportOutput{Body: reported(done)}, nil
}

// reported is a report of a write without problems.
func reported(done transfer.Done) report {
	return report{Rows: done.Rows, Added: done.Added, Changed: done.Changed, Removed: done.Removed, Problems: []problemItem{}}
}
