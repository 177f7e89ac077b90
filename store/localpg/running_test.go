//go:build unix

package localpg

import (
	"errors"
	"path/filepath"
	"testing"

	"github.com/jackc/pgx/v5"
)

// TestRunning reaches a server that somebody else started, by socket and by port.
func TestRunning(t *testing.T) {
	t.Parallel()
	deep := root(t) // a path that is too long for a socket
	for len(deep) < maxSocketPath {
		deep = filepath.Join(deep, "a-folder-with-a-long-name")
	}
	for name, dir := range map[string]string{"Socket": root(t), "Port": deep} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if _, err := Running(dir); !errors.Is(err, ErrNotRunning) {
				t.Errorf("before it starts: %v", err)
			}
			srv := start(t, Options{DataDir: dir})
			at, err := Running(dir)
			if err != nil {
				t.Fatal(err)
			}
			conn, err := pgx.Connect(t.Context(), at)
			if err != nil {
				t.Fatalf("%v; the server itself says %s", err, srv.URL())
			}
			var user string
			if err := conn.QueryRow(t.Context(), `select current_user`).Scan(&user); err != nil || user != userName {
				t.Errorf("user %q, %v", user, err)
			}
			conn.Close(t.Context())
			if err := srv.Stop(t.Context()); err != nil {
				t.Fatal(err)
			}
			if _, err := Running(dir); !errors.Is(err, ErrNotRunning) {
				t.Errorf("after it stopped: %v", err)
			}
		})
	}
}

func TestFreeSpace(t *testing.T) {
	t.Parallel()
	if free, err := FreeSpace(t.TempDir()); err != nil || free <= 0 {
		t.Errorf("%d bytes, %v", free, err)
	}
	if _, err := FreeSpace(filepath.Join(t.TempDir(), "nothing")); err == nil {
		t.Error("a folder that is not there has free space")
	}
}
