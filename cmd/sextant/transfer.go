package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/google/uuid"

	"sextant/api/transfer"
	"sextant/stats/record"
	"sextant/stats/table"
	"sextant/store"
)

// exportCommand writes an event, or a table of it, into a file.
type exportCommand struct {
	databaseFlags
	logFlags
	Event  uuid.UUID `arg:"" help:"Id of the event; it stands in the address of its screens."`
	Form   string    `enum:"ndjson,csv" default:"ndjson" help:"ndjson: the whole event with its history, to restore it. csv: what counts now, for a spreadsheet."`
	Table  string    `enum:",teams,matches,observations,marks,picklist" default:"" placeholder:"TABLE" help:"With csv: teams, matches, observations, marks or picklist. Without it all of them in a zip file."`
	List   uuid.UUID `placeholder:"LIST" help:"With --table picklist: id of the list."`
	Redact []string  `enum:"people,strategy" placeholder:"WHAT" help:"What to leave out of a file that you give away, with a comma between: people (nicknames become s01, s02, …; what scouts typed freely goes) or strategy (lists, notes, questions, judgements and moves go). The file is then an event of its own."`
	Out    string    `short:"o" type:"path" default:"-" help:"File to write; - is standard output."`
}

// Run exports.
func (c *exportCommand) Run(ctx context.Context, s *streams) error {
	switch {
	case c.Table != "" && c.Form != "csv":
		return badInput(errors.New("--table: one table is written as CSV only; add --form csv"))
	case c.List != uuid.Nil && c.Table != transfer.PickList:
		return badInput(errors.New("--list: only --table picklist has one"))
	}
	db, err := c.open(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	if c.Out == "-" {
		return c.write(ctx, db.DB, s.Out)
	}
	return writeWhole(c.Out, func(w io.Writer) error { return c.write(ctx, db.DB, w) })
}

func (c *exportCommand) write(ctx context.Context, db *store.DB, w io.Writer) error {
	var file []byte
	var err error
	how := store.Redaction{People: slices.Contains(c.Redact, "people"), Strategy: slices.Contains(c.Redact, "strategy")}
	switch {
	case c.Form == "ndjson":
		err = db.ExportRedacted(ctx, c.Event, how, w)
	case c.Table == "":
		file, err = transfer.All(ctx, db, c.Event, how)
	default:
		file, err = transfer.Table(ctx, db, c.Event, c.Table, c.List, how)
	}
	switch {
	case errors.Is(err, transfer.ErrRedacted):
		return badInput(errors.New("--redact strategy: a pick list is nothing but plans; choose another table"))
	case errors.Is(err, transfer.ErrNoList):
		return noList(ctx, db, c.Event)
	case errors.Is(err, store.ErrNotFound):
		return noEvent(c.Event)
	case err != nil:
		return err
	}
	_, err = w.Write(file)
	return err
}

func noEvent(id uuid.UUID) error { return badInput(fmt.Errorf("there is no event %s", id)) }

// noList says which pick lists there are instead.
func noList(ctx context.Context, db *store.DB, event uuid.UUID) error {
	lists, err := transfer.Lists(ctx, db, event)
	if err != nil {
		return err
	}
	if len(lists) == 0 {
		return badInput(errors.New("--list: the event has no pick list"))
	}
	names := make([]string, len(lists))
	for i, l := range lists {
		names[i] = fmt.Sprintf("%s (%q)", l.ID, l.Name)
	}
	return badInput(fmt.Errorf("--list: say which pick list: %s", strings.Join(names, ", ")))
}

// writeWhole writes a file beside its place and moves it there at the end, so
// that a half one never stands there.
func writeWhole(name string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".sextant-export-*")
	if err != nil {
		return badInput(fmt.Errorf("--out: %w", err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	w := bufio.NewWriter(f)
	if err := errors.Join(write(w), w.Flush(), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// importCommand restores an event from a file, or takes a table into one.
type importCommand struct {
	databaseFlags
	logFlags
	File    string    `arg:"" type:"path" help:"File that sextant export wrote, or with --table a CSV file; - is standard input."`
	Table   string    `enum:",teams,matches,observations,marks,picklist" default:"" placeholder:"TABLE" help:"The file is CSV and holds this: teams, matches, observations, marks or picklist. Needs --into."`
	List    uuid.UUID `placeholder:"LIST" help:"With --table picklist: id of the list to fill; without it a new one, named as the file."`
	Into    uuid.UUID `placeholder:"EVENT" help:"Event to take the file into. One that sextant export wrote must be of that same event; without --into the event is made anew."`
	Account string    `help:"Name of the account that leads the restored event."`
	Preview bool      `help:"Say what would be done, and do nothing."`
}

// Run imports all or nothing.
func (c *importCommand) Run(ctx context.Context, s *streams) error {
	switch {
	case c.Table != "" && c.Into == uuid.Nil:
		return badInput(errors.New("--table: say with --into which event the table belongs to"))
	case c.Table != "" && c.Account != "":
		return badInput(errors.New("--account: a table has no lead; leave it out"))
	case c.List != uuid.Nil && c.Table != transfer.PickList:
		return badInput(errors.New("--list: only --table picklist has one"))
	}
	in := s.In
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return badInput(err)
		}
		defer f.Close()
		in = f
	}
	db, err := c.open(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	if c.Table != "" {
		return c.table(ctx, db.DB, in, s.Out)
	}
	return c.archive(ctx, db.DB, in, s.Out)
}

// table takes a CSV file into an event.
func (c *importCommand) table(ctx context.Context, db *store.DB, in io.Reader, out io.Writer) error {
	body, err := io.ReadAll(in)
	if err != nil {
		return badInput(fmt.Errorf("%s: %w", c.File, err))
	}
	file := transfer.File{
		Table: c.Table, Name: c.File, Title: strings.TrimSuffix(filepath.Base(c.File), ".csv"), Body: body, List: c.List,
		By: store.By{Author: "sextant import", Role: record.RoleLead, Via: "import"}, DryRun: c.Preview,
	}
	if c.File == "-" {
		file.Title = c.Table
	}
	done, err := transfer.Import(ctx, db, c.Into, file)
	var rows table.Errors
	switch {
	case errors.As(err, &rows):
		return badInput(rows)
	case errors.Is(err, transfer.ErrFrozen):
		return badInput(errors.New("--list: that list is a dated copy and stays as it was; name another one, or none for a new one"))
	case errors.Is(err, transfer.ErrNoList):
		return noList(ctx, db, c.Into)
	case errors.Is(err, store.ErrNotFound):
		return noEvent(c.Into)
	case err != nil:
		return err
	}
	if len(done.Refused) > 0 {
		return badInput(fmt.Errorf("%s: %d of %d rows cannot be kept; the first: %s", c.File, len(done.Refused), done.Rows, done.Refused[0].Reason))
	}
	list := ""
	if done.List != uuid.Nil && !c.Preview {
		list = fmt.Sprintf("; the list is %s", done.List)
	}
	if _, err := fmt.Fprintf(out, "%s: %d rows: %d new, %d changed, %d removed%s\n", c.Table, done.Rows, done.Added, done.Changed, done.Removed, list); err != nil {
		return err
	}
	if c.Preview {
		return nil
	}
	return db.Audit(ctx, c.Into, uuid.Nil, "import", map[string]any{"table": c.Table, "form": "text/csv", "rows": done.Rows, "added": done.Added, "changed": done.Changed})
}

// archive restores a whole event, or takes its records over.
func (c *importCommand) archive(ctx context.Context, db *store.DB, in io.Reader, out io.Writer) error {
	how := store.Import{Into: c.Into, DryRun: c.Preview}
	if c.Account != "" {
		account, err := db.AccountByName(ctx, c.Account)
		if errors.Is(err, store.ErrNotFound) {
			return badInput(fmt.Errorf("there is no account named %q", c.Account))
		}
		if err != nil {
			return err
		}
		how.AccountID, how.Nickname = account.ID, account.Name
	}
	done, err := db.ImportNDJSON(ctx, in, how)
	if err != nil {
		return c.explain(err)
	}
	_, err = fmt.Fprintf(out, "%s (%s): %d new revisions, %d known, %d refused, %d new members\n",
		done.Event.Name, done.Event.ID, done.Revisions, done.Known, len(done.Refused), done.Members)
	return err
}

// explain tells errors of the file from the database's.
func (c *importCommand) explain(err error) error {
	var line *store.LineError
	switch {
	case errors.As(err, &line):
		return badInput(fmt.Errorf("%s:%d: %s", c.File, line.Line, line.Message))
	case errors.Is(err, store.ErrExists):
		return badInput(fmt.Errorf("%s: the event is here already; take its records over with --into", c.File))
	case errors.Is(err, store.ErrInvalid), errors.Is(err, store.ErrNotFound):
		return badInput(fmt.Errorf("%s: it was not made of event %s, or that event does not exist", c.File, c.Into))
	}
	return err
}
