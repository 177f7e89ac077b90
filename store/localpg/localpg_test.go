//go:build unix

package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"
)

// childEnv makes the test binary a program that starts a server in the folder
// it names and writes rows until it is killed.
const (
	childEnv    = "LOCALPG_TEST_CHILD"
	childBinEnv = "LOCALPG_TEST_CHILD_BIN"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		if err := writeForever(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

// root makes an empty folder that any user may enter; t.TempDir's are closed.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "localpg-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// needBinaries fails the test where there is no PostgreSQL, saying how to get one.
func needBinaries(t *testing.T) []string {
	t.Helper()
	if testing.Short() {
		t.Skip("needs PostgreSQL")
	}
	found := Find("")
	if len(found) == 0 {
		t.Fatal(help)
	}
	return found
}

func start(t *testing.T, opt Options) *Server {
	t.Helper()
	needBinaries(t)
	opt.Logger = slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelDebug}))
	srv, err := Start(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { srv.Stop(context.Background()) })
	return srv
}

func connect(t *testing.T, srv *Server) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), srv.URL())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func ask[T any](t *testing.T, conn *pgx.Conn, sql string) T {
	t.Helper()
	var v T
	if err := conn.QueryRow(t.Context(), sql).Scan(&v); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return v
}

func exec1(t *testing.T, conn *pgx.Conn, sql string) {
	t.Helper()
	if _, err := conn.Exec(t.Context(), sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// ended waits until the server is gone.
func ended(t *testing.T, srv *Server) {
	t.Helper()
	select {
	case <-srv.Done():
	case <-time.After(30 * time.Second):
		t.Fatal("the server does not end")
	}
}

// TestStart runs with every PostgreSQL on this machine: new data, what it is
// like, and that it is all there the next time.
func TestStart(t *testing.T) {
	t.Parallel()
	for _, bin := range needBinaries(t) {
		t.Run(strings.ReplaceAll(bin, "/", "_"), func(t *testing.T) {
			t.Parallel()
			b, err := inspect(bin)
			if err != nil {
				t.Fatal(err)
			}
			dir := filepath.Join(root(t), "made", "when missing")
			srv := start(t, Options{DataDir: dir, BinDir: bin, Settings: map[string]string{"max_connections": "17"}})
			conn := connect(t, srv)

			want := map[string]string{
				"data_checksums": "on", "server_encoding": "UTF8", "listen_addresses": "", "TimeZone": "UTC",
				"password_encryption": "scram-sha-256", "max_connections": "17", "lc_messages": "C",
			}
			got := map[string]string{}
			for name := range want {
				got[name] = ask[string](t, conn, "show "+name)
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("settings (-want +got):\n%s", diff)
			}
			if v := ask[int](t, conn, `select current_setting('server_version_num')::int / 10000`); v != b.major {
				t.Errorf("version %d, want %d", v, b.major)
			}
			if b.major >= 17 {
				// C.UTF-8 knows that é is a letter; plain C does not.
				if v := ask[string](t, conn, `select upper('é')`); v != "É" {
					t.Errorf("upper('é') = %q", v)
				}
			}
			for name, mode := range map[string]fs.FileMode{"data": 0o700, "run": 0o700, "password": 0o600} {
				info, err := os.Stat(filepath.Join(dir, name))
				if err != nil {
					t.Fatal(err)
				}
				if info.Mode().Perm() != mode {
					t.Errorf("%s has mode %o, want %o", name, info.Mode().Perm(), mode)
				}
			}
			u, err := url.Parse(srv.URL())
			if err != nil {
				t.Fatal(err)
			}
			u.User = url.UserPassword("sextant", "wrong")
			if conn, err := pgx.Connect(t.Context(), u.String()); err == nil {
				conn.Close(t.Context())
				t.Error("a wrong password is let in")
			}

			exec1(t, conn, `create table kept (n int)`)
			exec1(t, conn, `insert into kept values (1), (2)`)
			if err := srv.Stop(t.Context()); err != nil {
				t.Fatal(err)
			}
			if err := srv.Stop(t.Context()); err != nil {
				t.Fatal("stopping twice:", err)
			}
			again := connect(t, start(t, Options{DataDir: dir, BinDir: bin}))
			if n := ask[int](t, again, `select count(*) from kept`); n != 2 {
				t.Errorf("%d rows after a restart, want 2", n)
			}
		})
	}
}

func TestSecondInstanceIsRefused(t *testing.T) {
	t.Parallel()
	dir := root(t)
	srv := start(t, Options{DataDir: dir})
	_, err := Start(t.Context(), Options{DataDir: dir})
	if !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), strconv.Itoa(os.Getpid())) {
		t.Errorf("got %v, want ErrInUse that names process %d", err, os.Getpid())
	}
	if n := ask[int](t, connect(t, srv), `select 1`); n != 1 {
		t.Error("the first one was disturbed")
	}
	srv.Stop(t.Context())
	start(t, Options{DataDir: dir})
}

func TestServerThatEndsAtOnce(t *testing.T) {
	t.Parallel()
	dir := root(t)
	_, err := Start(t.Context(), Options{DataDir: dir, BinDir: needBinaries(t)[0], Settings: map[string]string{"no_such_setting": "1"}})
	if err == nil || !strings.Contains(err.Error(), "no_such_setting") {
		t.Errorf("got %v, want what the server said", err)
	}
	start(t, Options{DataDir: dir}) // and the lock was given back
}

func TestLongPathListensOnLoopback(t *testing.T) {
	t.Parallel()
	for name, sub := range map[string]string{
		"TooLong": strings.Repeat("a-long-folder/", 8),
		"Comma":   "red, blue",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			srv := start(t, Options{DataDir: filepath.Join(root(t), sub)})
			u, err := url.Parse(srv.URL())
			if err != nil {
				t.Fatal(err)
			}
			if u.Hostname() != "127.0.0.1" || u.Port() == "" {
				t.Errorf("listens on %s", u.Host)
			}
			conn := connect(t, srv)
			if got := ask[string](t, conn, `show listen_addresses`); got != "127.0.0.1" {
				t.Errorf("listen_addresses = %s", got)
			}
		})
	}
	longest := "/" + strings.Repeat("r", maxSocketPath-len("//.s.PGSQL.5432"))
	for run, socket := range map[string]bool{longest: true, longest + "r": false} {
		at, err := endpoint(run)
		if err != nil || at.socket != socket {
			t.Errorf("a folder of %d bytes: %+v, %v; want a socket: %v", len(run), at, err, socket)
		}
	}
}

func TestStop(t *testing.T) {
	t.Parallel()
	srv := start(t, Options{DataDir: root(t)})
	conn := connect(t, srv)
	exec1(t, conn, `begin`) // something under way, which must not hold it up
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if err := srv.Stop(cancelled); err != nil {
		t.Fatal(err)
	}
	ended(t, srv)
	if err := syscall.Kill(srv.PID(), 0); !errors.Is(err, syscall.ESRCH) {
		t.Errorf("process %d is still there: %v", srv.PID(), err)
	}
}
