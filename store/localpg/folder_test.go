//go:build unix

package localpg

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestForeignData: whatever stands in the place of the data stays as it is.
func TestForeignData(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	tests := map[string]struct {
		files map[string]string
		want  error
	}{
		"OlderMajor":  {map[string]string{"PG_VERSION": "10\n", "base/1/2": "rows"}, ErrVersion},
		"NewerMajor":  {map[string]string{"PG_VERSION": "99\n", "base/1/2": "rows"}, ErrVersion},
		"BeforeTen":   {map[string]string{"PG_VERSION": "9.6\n"}, ErrNotData},
		"Garbage":     {map[string]string{"PG_VERSION": "\x00\xff"}, ErrNotData},
		"Empty":       {map[string]string{"PG_VERSION": ""}, ErrNotData},
		"NoVersion":   {map[string]string{"thesis.txt": "all of it"}, ErrNotData},
		"EmptyFolder": {map[string]string{}, ErrNotData},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := root(t)
			data := filepath.Join(dir, "data")
			for file, text := range test.files {
				path := filepath.Join(data, file)
				if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.MkdirAll(data, 0o755); err != nil {
				t.Fatal(err)
			}
			_, err := Start(t.Context(), Options{DataDir: dir})
			if !errors.Is(err, test.want) || !strings.Contains(err.Error(), "nothing was changed") {
				t.Errorf("got %v, want %v and that nothing was changed", err, test.want)
			}
			got := map[string]string{}
			err = filepath.WalkDir(data, func(path string, e fs.DirEntry, err error) error {
				if err != nil || e.IsDir() {
					return err
				}
				text, err := os.ReadFile(path)
				name, _ := filepath.Rel(data, path)
				got[name] = string(text)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.files, got); diff != "" {
				t.Errorf("the folder was changed (-before +after):\n%s", diff)
			}
		})
	}
}

// fakeBin makes a folder with programs that are scripts.
func fakeBin(t *testing.T, dir, version, initdb string) string {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"postgres": "#!/bin/sh\necho 'postgres (PostgreSQL) " + version + "'\n",
		"initdb":   "#!/bin/sh\n" + initdb + "\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestUnfinishedInitdb(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	dir := root(t)
	// Like an initdb that was cut off: it had begun, and the version was there.
	bin := fakeBin(t, filepath.Join(dir, "bin"), "18.4", `mkdir "$2"; echo 18 > "$2/PG_VERSION"; echo no room left >&2; exit 1`)
	data := filepath.Join(dir, "root")
	_, err := Start(t.Context(), Options{DataDir: data, BinDir: bin})
	if err == nil || !strings.Contains(err.Error(), "no room left") {
		t.Fatalf("got %v, want what initdb said", err)
	}
	if _, err := os.Stat(filepath.Join(data, "data")); !errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("half a data folder counts as one: %v", err)
	}
	if _, err := os.Stat(filepath.Join(data, "data.new", "PG_VERSION")); err != nil {
		t.Fatalf("the test made no half data folder: %v", err)
	}
	if n := ask[int](t, connect(t, start(t, Options{DataDir: data})), `select 1`); n != 1 {
		t.Error("no answer")
	}
}

func TestRootRunsAsAnother(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	if os.Geteuid() != 0 {
		t.Skip("needs root")
	}
	dir := root(t)
	srv := start(t, Options{DataDir: filepath.Join(dir, "a")})
	for _, path := range []string{"/proc/" + strconv.Itoa(srv.PID()), filepath.Join(dir, "a", "data")} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if uid := info.Sys().(*syscall.Stat_t).Uid; uid == 0 {
			t.Errorf("%s belongs to root", path)
		}
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	_, err := Start(t.Context(), Options{DataDir: filepath.Join(dir, "b")})
	if !errors.Is(err, ErrClosedFolder) || !strings.Contains(err.Error(), "chmod o+x "+dir) {
		t.Errorf("got %v, want ErrClosedFolder and the command that helps", err)
	}
}

func TestRootsOwnData(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	if os.Geteuid() != 0 {
		t.Skip("needs root")
	}
	dir := root(t)
	first := start(t, Options{DataDir: dir})
	major := ask[string](t, connect(t, first), `select current_setting('server_version_num')::int / 10000 || ''`)
	first.Stop(t.Context())
	data := filepath.Join(dir, "data")
	if err := os.Chown(data, 0, 0); err != nil {
		t.Fatal(err)
	}
	_, err := Start(t.Context(), Options{DataDir: dir})
	if err == nil || !strings.Contains(err.Error(), "belongs to root") {
		t.Errorf("got %v", err)
	}
	if got, err := os.ReadFile(filepath.Join(data, "PG_VERSION")); err != nil || strings.TrimSpace(string(got)) != major {
		t.Errorf("PG_VERSION is %q, %v", got, err)
	}
}
