package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/google/uuid"

	"sextant/store"
)

// exportCommand writes a whole event into a file.
type exportCommand struct {
	databaseFlags
	logFlags
	Event uuid.UUID `arg:"" help:"Id of the event; it stands in the address of its screens."`
	Out   string    `short:"o" type:"path" default:"-" help:"File to write; - is standard output."`
}

// Run exports.
func (c *exportCommand) Run(ctx context.Context, s *streams) (err error) {
	db, err := c.open(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	if c.Out == "-" {
		return c.explain(db.ExportNDJSON(ctx, c.Event, s.Out))
	}
	return writeWhole(c.Out, func(w io.Writer) error { return c.explain(db.ExportNDJSON(ctx, c.Event, w)) })
}

func (c *exportCommand) explain(err error) error {
	if errors.Is(err, store.ErrNotFound) {
		return badInput(fmt.Errorf("there is no event %s", c.Event))
	}
	return err
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

// importCommand restores an event from a file.
type importCommand struct {
	databaseFlags
	logFlags
	File    string    `arg:"" type:"path" help:"File that sextant export wrote; - is standard input."`
	Into    uuid.UUID `placeholder:"EVENT" help:"Take the records over into this event, which the file was made of, instead of making the event anew."`
	Account string    `help:"Name of the account that leads the restored event."`
	Preview bool      `help:"Say what would be done, and do nothing."`
}

// Run imports all or nothing.
func (c *importCommand) Run(ctx context.Context, s *streams) error {
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
	_, err = fmt.Fprintf(s.Out, "%s (%s): %d new revisions, %d known, %d refused, %d new members\n",
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
