package storetest_test

import (
	"errors"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"sextant/store"
	"sextant/store/localpg"
	"sextant/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

// TestEachItsOwn: databases are migrated, empty and apart, and gone afterwards.
func TestEachItsOwn(t *testing.T) {
	t.Parallel()
	var urls []string
	t.Run("group", func(t *testing.T) {
		for range 3 {
			at := storetest.URL(t)
			urls = append(urls, at)
			db := storetest.Open(t, at, store.Options{})
			if has, err := db.HasAccount(t.Context()); err != nil || has {
				t.Errorf("an account: %v, %v", has, err)
			}
			if err := db.SetSetting(t.Context(), store.SettingSetup, "aa"); err != nil {
				t.Fatal(err)
			}
			if _, err := db.CreateFirstAccount(t.Context(), []byte{0xaa}, "Lee", "x"); err != nil {
				t.Error(err)
			}
		}
	})
	for _, at := range urls {
		conn, err := pgx.Connect(t.Context(), at)
		if err == nil {
			conn.Close(t.Context())
			t.Errorf("a database is left")
			continue
		}
		var pg *pgconn.PgError
		if !errors.As(err, &pg) || pg.Code != "3D000" { // no such database
			t.Error(err)
		}
	}
}

// TestChild is what the tests below run in a process of its own.
func TestChild(t *testing.T) {
	t.Parallel()
	ev, lead := storetest.Event(t, storetest.New(t), nil)
	if ev.ChangeNo != 1 || lead.Nickname != "lead" {
		t.Errorf("got %+v, %+v", ev, lead)
	}
}

// child runs TestChild with other settings and returns what it prints.
func child(t *testing.T, env []string, args ...string) (string, error) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0], append(args, "-test.run=^TestChild$", "-test.v")...)
	cmd.Env = append(os.Environ(), env...)
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// TestWithoutPostgreSQL: tests fail and say which command helps; they are
// skipped only when that was asked for.
func TestWithoutPostgreSQL(t *testing.T) {
	t.Parallel()
	none := []string{storetest.EnvURL + "=", localpg.EnvBin + "=" + t.TempDir()}
	out, err := child(t, none)
	if err == nil || !strings.Contains(out, "--- FAIL: TestChild") || !strings.Contains(out, "npm ci") || !strings.Contains(out, storetest.EnvURL) {
		t.Errorf("without PostgreSQL: %v\n%s", err, out)
	}
	out, err = child(t, none, "-test.short")
	if err != nil || !strings.Contains(out, "--- SKIP: TestChild") {
		t.Errorf("under -short: %v\n%s", err, out)
	}
}

// TestLeavesNothing: the private server and its folder go with the test binary.
func TestLeavesNothing(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("needs PostgreSQL")
	}
	dir, err := os.MkdirTemp("", "storetest-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	out, err := child(t, []string{storetest.EnvURL + "=", "TMPDIR=" + dir})
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// TestNamedServer: the server that the environment names is used, and nothing
// is left on it.
func TestNamedServer(t *testing.T) {
	t.Parallel()
	at := storetest.EmptyURL(t) // any database of a server will do
	out, err := child(t, []string{storetest.EnvURL + "=" + at, localpg.EnvBin + "=" + t.TempDir()})
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if os.Getenv(storetest.EnvURL) != "" {
		return // other test binaries have their templates there
	}
	conn := storetest.Conn(t, at)
	rows, err := conn.Query(t.Context(), `select datname::text from pg_database where datname like 'sextant\_template\_%'`)
	if err != nil {
		t.Fatal(err)
	}
	left, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil || len(left) != 1 { // ours, which is in use
		t.Errorf("templates %v, %v", left, err)
	}
}
