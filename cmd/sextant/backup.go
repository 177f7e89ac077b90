package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"

	"sextant/store"
	"sextant/store/backup"
	"sextant/store/localpg"
)

// authorityFile is the authority of --tls, below the data folder. It goes with
// each back-up: on another laptop tablets then find what they trust.
const authorityFile = "hall/authority.pem"

// backups is the folder of the private database's back-ups.
func (f databaseFlags) backups() *backup.Folder {
	if f.BackupDir != "" {
		return &backup.Folder{Dir: f.BackupDir}
	}
	return &backup.Folder{Dir: filepath.Join(f.Data, "backups")}
}

// backupFiles are the files that go with a back-up.
func (f databaseFlags) backupFiles() []store.DumpFile {
	text, err := os.ReadFile(filepath.Join(f.Data, filepath.FromSlash(authorityFile)))
	if err != nil {
		return nil // never made; if it cannot be read, serve --tls says so
	}
	return []store.DumpFile{{Name: authorityFile, Text: string(text)}}
}

// backupCommand backs the whole database up, while a server runs or not.
type backupCommand struct {
	databaseFlags
	logFlags
	Out string `short:"o" type:"path" placeholder:"FILE" help:"File to write, with the secrets of all accounts in it; otherwise one in the folder of back-ups."`
}

// Run backs up. It does not bring the database to the newest form first.
func (c *backupCommand) Run(ctx context.Context, s *streams) error {
	db, err := c.beside(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	path := c.Out
	if path == "" {
		folder := c.backups()
		if path, err = folder.Write(ctx, db.DB, "asked", c.backupFiles()); err != nil {
			return err
		}
	} else if err := backup.WriteFile(ctx, db.DB, path, c.backupFiles()); err != nil {
		return badInput(fmt.Errorf("--out: %w", err))
	}
	_, err = fmt.Fprintf(s.Out, "%s\nIt holds everything, password hashes and sessions too: keep it where only you can read it.\n", path)
	return err
}

// beside reaches the database, also the private one of a server that runs.
func (f databaseFlags) beside(ctx context.Context, logger *slog.Logger) (*database, error) {
	db, err := f.reach(ctx, logger)
	if !errors.Is(err, localpg.ErrInUse) {
		return db, err
	}
	at, runErr := localpg.Running(f.Data)
	if runErr != nil {
		return nil, errors.Join(err, runErr)
	}
	d := &database{url: at, logger: logger}
	d.DB, err = store.Open(ctx, at, store.Options{Logger: logger})
	return d, err
}

// restoreCommand brings a back-up back.
type restoreCommand struct {
	databaseFlags
	logFlags
	File string `arg:"" type:"path" help:"Back-up to restore."`
}

// Run restores into an empty data folder or database, all or nothing. The file
// is read through before anything is made.
func (c *restoreCommand) Run(ctx context.Context, s *streams) error {
	if err := c.read(func(f *os.File) error { _, err := store.ReadDump(f); return err }); err != nil {
		return err
	}
	db, err := c.reach(ctx, c.logger(s.Err))
	if err != nil {
		return err
	}
	defer db.close()
	var done store.Dumped
	err = c.read(func(f *os.File) error {
		done, err = store.RestoreDump(ctx, db.url, f, store.Options{Logger: c.logger(s.Err)})
		return err
	})
	if err != nil {
		return err
	}
	for _, f := range done.Files {
		if err := c.place(f); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(s.Out, "Restored %d rows as they were on %s.\nWhat was entered later is not in them: tablets that are opened again are told to send and fetch anew.\n",
		done.Rows, done.MadeAt.Local().Format("2 January 2006 15:04"))
	return err
}

// read opens the back-up for fn and tells faults of the file from others.
func (c *restoreCommand) read(fn func(*os.File) error) error {
	file, err := os.Open(c.File)
	if err != nil {
		return badInput(err)
	}
	defer file.Close()
	err = fn(file)
	var line *store.LineError
	switch {
	case errors.As(err, &line):
		return badInput(fmt.Errorf("%s:%d: %s", c.File, line.Line, line.Message))
	case errors.Is(err, store.ErrInvalid), errors.Is(err, store.ErrExists):
		return badInput(fmt.Errorf("%s: %w", c.File, err))
	}
	return err
}

// place writes a file of the back-up into the data folder, unless there is one.
func (c *restoreCommand) place(f store.DumpFile) error {
	if f.Name != authorityFile {
		return nil // of a newer program
	}
	path := filepath.Join(c.Data, filepath.FromSlash(authorityFile))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	out, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = out.WriteString(f.Text)
	return errors.Join(err, out.Sync(), out.Close())
}
