package transfer

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// The tables of an event.
const (
	Teams        = "teams"
	Matches      = "matches"
	Observations = "observations"
	Marks        = "marks"
	PickList     = "picklist"
)

// ErrRedacted says that a pick list is what was to be left out.
var ErrRedacted = errors.New("a pick list is nothing but plans")

// Table writes one table of an event as CSV, without what how leaves out; list
// says which pick list and is not read for others. Errors: store.ErrNotFound,
// ErrNoList, ErrRedacted.
func Table(ctx context.Context, db *store.DB, event uuid.UUID, name string, list uuid.UUID, how store.Redaction) ([]byte, error) {
	g, _, err := Game(ctx, db, event)
	if err != nil {
		return nil, err
	}
	var csv bytes.Buffer
	switch name {
	case Teams:
		teams, _, rerr := db.Teams(ctx, event)
		err = writeRows(&csv, teams, rerr, table.WriteTeams)
	case Matches:
		matches, _, rerr := db.Schedule(ctx, event)
		err = writeRows(&csv, matches, rerr, func(w io.Writer, rows []record.Match) error { return table.WriteMatches(w, g, rows) })
	case Observations:
		rows, rerr := bodies(ctx, db, event, record.KindObservation, func(o record.Observation) bool { return !o.Discarded })
		if rerr == nil && how.People {
			rerr = withoutPeople(ctx, db, event, rows)
		}
		err = writeRows(&csv, rows, rerr, func(w io.Writer, rows []record.Observation) error {
			return table.WriteObservations(w, g, record.Rows(g, rows))
		})
	case Marks:
		rows, rerr := bodies(ctx, db, event, record.KindMark, func(m record.Mark) bool { return !m.Discarded })
		for i := range rows {
			if how.People {
				rows[i].Note = ""
			}
		}
		err = writeRows(&csv, rows, rerr, table.WriteMarks)
	case PickList:
		if how.Strategy {
			return nil, ErrRedacted
		}
		picks, rerr := picks(ctx, db, event, list)
		err = writeRows(&csv, picks, rerr, table.WritePickList)
	default:
		err = unknownTable(name)
	}
	if err != nil {
		return nil, err
	}
	return csv.Bytes(), nil
}

// withoutPeople gives scouts other names, and takes out what they typed freely.
func withoutPeople(ctx context.Context, db *store.DB, event uuid.UUID, rows []record.Observation) error {
	g, _, err := Game(ctx, db, event)
	if err != nil {
		return err
	}
	names, err := db.Pseudonyms(ctx, event)
	if err != nil {
		return err
	}
	for i := range rows {
		o := &rows[i]
		o.Scout, o.Note = names[o.Scout], ""
		for _, q := range g.Questions {
			if q.Kind == "text" {
				delete(o.Answers, q.ID)
			}
		}
	}
	return nil
}

func unknownTable(name string) error { return fmt.Errorf("there is no table %q", name) }

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
	body []byte
}

// All writes all tables of an event, and its game and settings, into a zip
// file, without what how leaves out. The same data give the same bytes. Errors:
// store.ErrNotFound.
func All(ctx context.Context, db *store.DB, event uuid.UUID, how store.Redaction) ([]byte, error) {
	ev, err := db.Event(ctx, event)
	if err != nil {
		return nil, err
	}
	gameFile, _, err := db.Game(ctx, event)
	if err != nil {
		return nil, err
	}
	files := []named{{"game.json", gameFile}, {"event.json", ev.Overrides}}
	for _, name := range []string{Teams, Matches, Observations, Marks} {
		csv, err := Table(ctx, db, event, name, uuid.Nil, how)
		if err != nil {
			return nil, err
		}
		files = append(files, named{name + ".csv", csv})
	}
	if !how.Strategy {
		lists, err := pickLists(ctx, db, event)
		if err != nil {
			return nil, err
		}
		files = append(files, lists...)
	}
	return zipped(files)
}

// pickLists writes each pick list as CSV; removed ones too, as they were.
func pickLists(ctx context.Context, db *store.DB, event uuid.UUID) ([]named, error) {
	lists, err := Lists(ctx, db, event)
	if err != nil {
		return nil, err
	}
	var files []named
	for _, l := range lists {
		csv, err := Table(ctx, db, event, PickList, l.ID, store.Redaction{})
		if err != nil {
			return nil, err
		}
		files = append(files, named{FileName("picklist-"+l.Name+"-"+l.ID.String(), "csv"), csv})
	}
	return files, nil
}

// zipped puts files into a zip file.
func zipped(files []named) ([]byte, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, f := range files {
		w, err := z.Create(f.name)
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(f.body); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// List is a pick list of an event; Name is empty if its body is damaged.
type List struct {
	ID   uuid.UUID
	Name string
}

// Lists are the pick lists of an event, removed ones too, by id.
func Lists(ctx context.Context, db *store.DB, event uuid.UUID) ([]List, error) {
	records, err := db.Records(ctx, event, store.Filter{Kind: record.KindList})
	if err != nil {
		return nil, err
	}
	slices.SortFunc(records, func(a, b store.Record) int { return bytes.Compare(a.ID[:], b.ID[:]) })
	out := make([]List, len(records))
	for i, r := range records {
		out[i].ID = r.ID
		var body record.ListBody
		if json.Unmarshal(r.Body, &body) == nil {
			out[i].Name = body.Name
		}
	}
	return out, nil
}

// FileName makes a file's name from an event's or a list's.
func FileName(event, ending string) string {
	plain := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, event)
	if plain = strings.Trim(plain, "-"); plain == "" {
		plain = "event"
	}
	return plain + "." + ending
}
