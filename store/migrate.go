package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"github.com/golang-migrate/migrate/v4"
	migratepgx "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	"github.com/golang-migrate/migrate/v4/source/iofs"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"

	"sextant/migrations"
)

// Migrate brings the database at url (postgres://…) to the newest form. It may
// be repeated, and run by several processes at once. Each step happens whole
// or not at all.
func Migrate(ctx context.Context, url string) (err error) {
	return runMigrations(ctx, url, func(m *migrate.Migrate) error { return m.Up() })
}

// MigrateDown takes the database at url back to empty: everything in it is lost.
func MigrateDown(ctx context.Context, url string) (err error) {
	return runMigrations(ctx, url, func(m *migrate.Migrate) error { return m.Down() })
}

// Version tells which form the database at url has, by the number of its last
// migration (0: none yet), and the newest that this program knows.
func Version(ctx context.Context, url string) (have, newest int, err error) {
	newest = newestMigration()
	err = runMigrations(ctx, url, func(m *migrate.Migrate) error {
		version, _, err := m.Version()
		have = int(version)
		if errors.Is(err, migrate.ErrNilVersion) {
			return nil
		}
		return err
	})
	return have, newest, err
}

// migrateTo brings the database at url to one form, up or down.
func migrateTo(ctx context.Context, url string, version int) error {
	return runMigrations(ctx, url, func(m *migrate.Migrate) error { return m.Migrate(uint(version)) })
}

// newestMigration is the number of the last step.
func newestMigration() int {
	names, err := fs.Glob(migrations.Files, "*.up.sql")
	if err != nil {
		panic(err) // a bad pattern, and ours is not
	}
	newest := 0
	for _, name := range names {
		number, _, _ := strings.Cut(name, "_")
		n, err := strconv.Atoi(number)
		if err != nil {
			panic(fmt.Sprintf("migration %s has no number", name)) // a test reads the names
		}
		newest = max(newest, n)
	}
	return newest
}

func runMigrations(ctx context.Context, url string, run func(*migrate.Migrate) error) error {
	cfg, err := pgx.ParseConfig(url)
	if err != nil {
		return fmt.Errorf("%w: the address of the database: %w", ErrInvalid, err)
	}
	db := stdlib.OpenDB(*cfg)
	defer db.Close()
	if err := db.PingContext(ctx); err != nil {
		return fmt.Errorf("reach the database: %w", err)
	}
	return migrateDB(ctx, db, run)
}

func migrateDB(ctx context.Context, db *sql.DB, run func(*migrate.Migrate) error) error {
	files, err := iofs.New(migrations.Files, ".")
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	driver, err := migratepgx.WithInstance(db, &migratepgx.Config{})
	if err != nil {
		return fmt.Errorf("prepare the migrations: %w", err)
	}
	m, err := migrate.NewWithInstance("iofs", files, "pgx5", driver)
	if err != nil {
		return fmt.Errorf("prepare the migrations: %w", err)
	}
	defer m.Close() // it holds a connection, which keeps the lock on the migrations
	// It has no context; between two steps it can be asked to stop.
	finished := make(chan struct{})
	defer close(finished)
	go func() {
		select {
		case <-ctx.Done():
			m.GracefulStop <- true
		case <-finished:
		}
	}()
	var dirty migrate.ErrDirty
	err = run(m)
	switch {
	case err == nil || errors.Is(err, migrate.ErrNoChange):
		return ctx.Err()
	case errors.As(err, &dirty):
		return fmt.Errorf("an earlier migration of the database was cut off at step %d; restore the back-up that was made before it: %w", dirty.Version, err)
	case errors.Is(err, os.ErrNotExist):
		return fmt.Errorf("the database was made by a newer Sextant than this one; nothing was changed. Use that one, or a newer: %w", err)
	}
	return fmt.Errorf("migrate the database: %w", err)
}
