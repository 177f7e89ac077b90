package api

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// oneTable writes one table of an event as CSV.
func (s *Server) oneTable(ctx context.Context, event uuid.UUID, name string, list uuid.UUID) (content, error) {
	g, _, err := s.effectiveGame(ctx, event)
	if err != nil {
		return nil, err
	}
	var csv bytes.Buffer
	switch name {
	case "teams":
		teams, _, rerr := s.opt.Store.Teams(ctx, event)
		err = writeRows(&csv, teams, rerr, table.WriteTeams)
	case "matches":
		matches, _, rerr := s.opt.Store.Schedule(ctx, event)
		err = writeRows(&csv, matches, rerr, func(w io.Writer, rows []record.Match) error { return table.WriteMatches(w, g, rows) })
	case "observations":
		rows, rerr := bodies(ctx, s.opt.Store, event, record.KindObservation, func(o record.Observation) bool { return !o.Discarded })
		err = writeRows(&csv, rows, rerr, func(w io.Writer, rows []record.Observation) error { return table.WriteObservations(w, g, rows) })
	case "marks":
		rows, rerr := bodies(ctx, s.opt.Store, event, record.KindMark, func(m record.Mark) bool { return !m.Discarded })
		err = writeRows(&csv, rows, rerr, table.WriteMarks)
	default:
		picks, rerr := s.picks(ctx, event, list)
		err = writeRows(&csv, picks, rerr, table.WritePickList)
	}
	if err != nil {
		return nil, err
	}
	return csv.Bytes(), nil
}

// writeRows writes what was read, unless reading failed.
func writeRows[T any](w io.Writer, rows []T, err error, write func(io.Writer, []T) error) error {
	if err != nil {
		return err
	}
	return write(w, rows)
}

// bodies reads the bodies of all records of a kind that are wanted.
func bodies[T any](ctx context.Context, db *store.DB, event uuid.UUID, kind string, wanted func(T) bool) ([]T, error) {
	records, err := db.Records(ctx, event, store.Filter{Kind: kind})
	if err != nil {
		return nil, err
	}
	var out []T
	for _, r := range records {
		var body T
		if err := json.Unmarshal(r.Body, &body); err != nil {
			return nil, fmt.Errorf("read the stored record %s: %w", r.ID, err)
		}
		if wanted(body) {
			out = append(out, body)
		}
	}
	return out, nil
}

// named is a file and its name.
type named struct {
	name string
	body content
}

// allTables writes all tables of an event, and its game and settings, into a
// zip file. The same data give the same bytes.
func (s *Server) allTables(ctx context.Context, event uuid.UUID) (content, error) {
	ev, err := s.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, err
	}
	gameFile, _, err := s.opt.Store.Game(ctx, event)
	if err != nil {
		return nil, err
	}
	files := []named{{"game.json", content(gameFile)}, {"event.json", content(ev.Overrides)}}
	for _, name := range []string{"teams", "matches", "observations", "marks"} {
		csv, err := s.oneTable(ctx, event, name, uuid.Nil)
		if err != nil {
			return nil, err
		}
		files = append(files, named{name + ".csv", csv})
	}
	lists, err := s.pickLists(ctx, event)
	if err != nil {
		return nil, err
	}
	return zipped(append(files, lists...))
}

// pickLists writes each pick list as CSV; removed ones too, as they were.
func (s *Server) pickLists(ctx context.Context, event uuid.UUID) ([]named, error) {
	lists, err := s.opt.Store.Records(ctx, event, store.Filter{Kind: record.KindList})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(lists, func(a, b store.Record) int { return bytes.Compare(a.ID[:], b.ID[:]) })
	var files []named
	for _, l := range lists {
		csv, err := s.oneTable(ctx, event, "picklist", l.ID)
		if err != nil {
			return nil, err
		}
		files = append(files, named{fileName("picklist-"+listName(l)+"-"+l.ID.String(), "csv"), csv})
	}
	return files, nil
}

// zipped puts files into a zip file.
func zipped(files []named) (content, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, f := range files {
		w, err := z.Create(f.name)
		if err != nil {
			return nil, err
		}
		if err := f.body.copyTo(w); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// listName is the name of a pick list, which a damaged body does not have.
func listName(r store.Record) string {
	var body record.ListBody
	if json.Unmarshal(r.Body, &body) != nil {
		return ""
	}
	return body.Name
}
