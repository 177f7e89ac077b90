// Package storetest gives each test a database of its own. Only tests import it.
//
// A package that uses it has
//
//	func TestMain(m *testing.M) { storetest.Main(m) }
//
// and each test begins with
//
//	db := storetest.New(t)
//
// The database is a copy of a migrated template on the server that
// SEXTANT_TEST_DATABASE_URL names (as a user who may create databases), or else
// on a private PostgreSQL that the first New of the test binary starts and Main
// stops. Without one, tests fail with the command that helps; under -short they
// are skipped.
package storetest

import (
	"context"
	"crypto/rand"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"sextant/store"
	"sextant/store/localpg"
)

// EnvURL names the server that tests use, postgres://….
const EnvURL = "SEXTANT_TEST_DATABASE_URL"

// bench is the server of this test binary.
type bench struct {
	admin    *pgxpool.Pool
	url      string // of the admin's database
	template string
	close    func() error
}

var (
	inMain bool
	begin  = sync.OnceValues(open)
	opened *bench // by begin; read by Main after all tests
)

// Main runs the tests of a package and then stops what New started.
func Main(m *testing.M) {
	inMain = true
	code := m.Run()
	if opened != nil {
		if err := opened.close(); err != nil {
			fmt.Fprintln(os.Stderr, "storetest:", err)
			code = max(code, 1)
		}
	}
	os.Exit(code)
}

func open() (_ *bench, err error) {
	ctx := context.Background()
	b := &bench{url: os.Getenv(EnvURL), close: func() error { return nil }}
	if b.url == "" {
		if err := b.startPrivate(ctx); err != nil {
			return nil, err
		}
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, b.close())
		}
	}()
	if b.admin, err = pgxpool.New(ctx, b.url); err != nil {
		return nil, err
	}
	stop := b.close
	b.template = "sextant_template_" + name()
	b.close = func() error {
		_, err := b.admin.Exec(ctx, "drop database if exists "+b.template+" with (force)")
		b.admin.Close()
		return errors.Join(err, stop())
	}
	if _, err := b.admin.Exec(ctx, "create database "+b.template); err != nil {
		return nil, fmt.Errorf("make the template database: %w", err)
	}
	at, err := b.address(b.template)
	if err != nil {
		return nil, err
	}
	if err := store.Migrate(ctx, at); err != nil {
		return nil, err
	}
	opened = b
	return b, nil
}

// startPrivate starts a server in a new folder that goes with it.
func (b *bench) startPrivate(ctx context.Context) error {
	dir, err := os.MkdirTemp("", "sextant-test-")
	if err != nil {
		return err
	}
	if err := os.Chmod(dir, 0o755); err != nil { // the server may run as another user
		return err
	}
	settings := map[string]string{"max_connections": "200"}
	if f := flag.Lookup("test.bench"); f == nil || f.Value.String() == "" {
		// These rows need not outlive a loss of power. A benchmark measures what does.
		for _, name := range []string{"fsync", "synchronous_commit", "full_page_writes"} {
			settings[name] = "off"
		}
	}
	srv, err := localpg.Start(ctx, localpg.Options{DataDir: dir, Settings: settings})
	if err != nil {
		return errors.Join(err, os.RemoveAll(dir))
	}
	b.url = srv.URL()
	b.close = func() error { return errors.Join(srv.Stop(ctx), os.RemoveAll(dir)) }
	return nil
}

// address is the URL of another database on the same server.
func (b *bench) address(database string) (string, error) {
	u, err := url.Parse(b.url)
	if err != nil {
		return "", fmt.Errorf("%s: %w", EnvURL, err)
	}
	u.Path = "/" + database
	return u.String(), nil
}

// name makes a word that no other test uses.
func name() string { return strings.ToLower(rand.Text()) }

// URL returns the address of an empty, migrated database of its own, for tests
// that start the program. It is dropped when the test ends.
func URL(t testing.TB) string {
	t.Helper()
	return fresh(t, true)
}

// EmptyURL is URL without tables, for tests of the migrations.
func EmptyURL(t testing.TB) string {
	t.Helper()
	return fresh(t, false)
}

func fresh(t testing.TB, migrated bool) string {
	t.Helper()
	if testing.Short() {
		t.Skip("needs PostgreSQL")
	}
	if !inMain {
		t.Fatal("the package needs: func TestMain(m *testing.M) { storetest.Main(m) }")
	}
	b, err := begin()
	if err != nil {
		t.Fatalf("no test database: %v\nOr name a server in %s, or run the tests that need none: go test -short", err, EnvURL)
	}
	database := "sextant_test_" + name()
	create := "create database " + database
	if migrated {
		create += " template " + b.template
	}
	ctx := context.Background() // t.Context() has ended when the cleanup runs
	if _, err := b.admin.Exec(ctx, create); err != nil {
		t.Fatalf("make a test database: %v", err)
	}
	t.Cleanup(func() {
		if _, err := b.admin.Exec(ctx, "drop database "+database+" with (force)"); err != nil {
			t.Errorf("drop the test database: %v", err)
		}
	})
	at, err := b.address(database)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

// New returns an empty, migrated database that is closed and dropped when the
// test ends. What it logs is shown with the test.
func New(t testing.TB) *store.DB {
	t.Helper()
	return Open(t, URL(t), store.Options{})
}

// Open opens a database by its address, for a test that looks at one twice.
// It is closed when the test ends.
func Open(t testing.TB, at string, opt store.Options) *store.DB {
	t.Helper()
	if opt.Logger == nil {
		opt.Logger = slog.New(slog.NewTextHandler(t.Output(), nil))
	}
	if opt.MaxConns == 0 {
		opt.MaxConns = 8
	}
	db, err := store.Open(t.Context(), at, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(db.Close)
	return db
}

// Conn opens a plain connection, for a test that looks behind the store.
func Conn(t testing.TB, at string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), at)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}
