package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"sextant/api/hall"
	"sextant/store/localpg"
)

func rawJSON(text []byte) json.RawMessage { return text }

// dataRoot is a folder that PostgreSQL's user may enter when tests run as root.
func dataRoot(t *testing.T) string {
	t.Helper()
	if testing.Short() {
		t.Skip("starts a PostgreSQL of its own")
	}
	dir, err := os.MkdirTemp("", "sextant-data-")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// runProgram runs a command to its end and checks how it ends.
func runProgram(t *testing.T, want int, args ...string) (stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := program(t, nil, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	if got := cmd.ProcessState.ExitCode(); got != want {
		t.Fatalf("sextant %q ends with %d, want %d (%v): %s", args, got, want, err, errs.String())
	}
	return out.String(), errs.String()
}

// awaitBackups waits until the folder has at least n back-ups.
func awaitBackups(t *testing.T, dir string, n int) []string {
	t.Helper()
	tick, limit := time.NewTicker(20*time.Millisecond), time.After(time.Minute)
	defer tick.Stop()
	for {
		files, err := filepath.Glob(filepath.Join(dir, "sextant-*.backup"))
		if err != nil {
			t.Fatal(err)
		}
		if len(files) >= n {
			return files
		}
		select {
		case <-tick.C:
		case <-limit:
			t.Fatalf("%d back-ups in %s, want %d", len(files), dir, n)
		}
	}
}

// TestBackupAndRestore: a laptop is lost; another one takes over. Accounts,
// sessions, records and what tablets trust are there again.
func TestBackupAndRestore(t *testing.T) {
	t.Parallel()
	root := dataRoot(t)
	data := filepath.Join(root, "first")
	srv := startServer(t, nil, "--data", data, "--tls", "--name", "hall.test", "--http-port", "0")
	roots := trust(t, srv)
	lead := inHall(t, srv.base, roots)
	lead.call("POST", "/api/setup", map[string]string{"secret": srv.setUp, "name": "ada", "password": "a long password"}, 201)
	event := newEvent(t, lead)
	var before struct {
		ChangeNo int64 `json:"change_no"`
	}
	lead.call("GET", event, nil, 200, &before)
	awaitBackups(t, filepath.Join(data, "backups"), 1) // the first comes at once

	// While the server runs.
	file := filepath.Join(root, "copy.backup")
	runProgram(t, exitDone, "backup", "--data", data, "--out", file)
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("the back-up: %v, %v", info, err)
	}
	srv.stop()
	printed, _ := runProgram(t, exitDone, "backup", "--data", data) // and while none does
	if path, _, _ := strings.Cut(printed, "\n"); !strings.Contains(path, filepath.Join("first", "backups", "sextant-")) {
		t.Errorf("it prints %q", printed)
	}

	other := filepath.Join(root, "second")
	if out, _ := runProgram(t, exitDone, "restore", file, "--data", other); !strings.Contains(out, "Restored") {
		t.Errorf("it prints %q", out)
	}
	again := startServer(t, nil, "--data", other, "--tls", "--name", "hall.test", "--http-port", "0")
	lead.base = again.base // the same session, the same authority
	var after struct {
		ChangeNo int64 `json:"change_no"`
		Name     string
	}
	lead.call("GET", event, nil, 200, &after)
	if after.Name != "Saltmarsh Test" || after.ChangeNo <= before.ChangeNo || again.setUp != "" {
		t.Errorf("restored %+v; it printed %s", after, again.out)
	}
	again.stop()

	if _, errs := runProgram(t, exitUsage, "restore", file, "--data", other); !strings.Contains(errs, "in use") {
		t.Errorf("over a folder that is in use: %s", errs)
	}
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	half := filepath.Join(root, "half.backup")
	if err := os.WriteFile(half, whole[:len(whole)/2], 0o600); err != nil {
		t.Fatal(err)
	}
	third := filepath.Join(root, "third")
	if _, errs := runProgram(t, exitUsage, "restore", half, "--data", third); !strings.Contains(errs, "cut off") {
		t.Errorf("half a back-up: %s", errs)
	}
	if _, err := os.Stat(third); !errors.Is(err, os.ErrNotExist) {
		t.Error("half a back-up makes a data folder")
	}
	runProgram(t, exitUsage, "restore", filepath.Join(root, "nothing"), "--data", third)
	runProgram(t, exitUsage, "backup", "--data", data, "--out", filepath.Join(root, "no", "folder"))
}

// TestDataFolderOfAnotherProgram: an older program meets the data of a newer
// one, and a newer one that of an older one.
func TestDataFolderOfAnotherProgram(t *testing.T) {
	t.Parallel()
	data := filepath.Join(dataRoot(t), "data")
	runProgram(t, exitDone, "migrate", "--data", data)
	sql := func(statements ...string) {
		t.Helper()
		pg, err := localpg.Start(t.Context(), localpg.Options{DataDir: data})
		if err != nil {
			t.Fatal(err)
		}
		defer pg.Stop(context.Background())
		conn, err := pgx.Connect(t.Context(), pg.URL())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(context.Background())
		for _, s := range statements {
			if _, err := conn.Exec(t.Context(), s); err != nil {
				t.Fatalf("%s: %v", s, err)
			}
		}
	}
	sql(`create table later (a int)`, `update schema_migrations set version = 999999`)
	if _, errs := runProgram(t, exitFailed, "serve", "--data", data, "--listen", "127.0.0.1:0"); !strings.Contains(errs, "newer Sextant") || !strings.Contains(errs, "nothing was changed") {
		t.Errorf("the data of a newer program: %s", errs)
	}
	sql(`select 1 from later`, `drop table later`) // as it was

	version := filepath.Join(data, "data", "PG_VERSION")
	if err := os.WriteFile(version, []byte("99\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, errs := runProgram(t, exitFailed, "serve", "--data", data, "--listen", "127.0.0.1:0"); !strings.Contains(errs, "PostgreSQL 99") || !strings.Contains(errs, "nothing was changed") {
		t.Errorf("the data of a newer PostgreSQL: %s", errs)
	}
}

// TestBackUpBeforeMigration: without a back-up the database keeps its form.
func TestBackUpBeforeMigration(t *testing.T) {
	t.Parallel()
	root := dataRoot(t)
	f := databaseFlags{Data: filepath.Join(root, "data")}
	logger := slog.New(slog.NewTextHandler(t.Output(), nil))
	db, err := f.open(t.Context(), logger)
	if err != nil {
		t.Fatal(err)
	}
	defer db.close()
	made := func() int {
		list, err := f.backups().List()
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	for _, step := range []struct{ have, newest, want int }{{0, 3, 0}, {3, 3, 0}, {2, 3, 1}} {
		if err := f.backUpBefore(t.Context(), db, step.have, step.newest, logger); err != nil || made() != step.want {
			t.Errorf("from form %d to %d: %d back-ups, want %d (%v)", step.have, step.newest, made(), step.want, err)
		}
	}
	list, err := f.backups().List()
	if err != nil || len(list) != 1 || list[0].Why != "before-3" {
		t.Fatalf("%+v, %v", list, err)
	}
	f.BackupDir = filepath.Join(list[0].Path, "no folder")
	if err := f.backUpBefore(t.Context(), db, 2, 3, logger); err == nil || !strings.Contains(err.Error(), "nothing was changed") {
		t.Errorf("where there can be no back-up: %v", err)
	}
}

func TestCare(t *testing.T) {
	t.Parallel()
	var log buffer
	now := time.Date(2031, 3, 6, 8, 0, 0, 0, time.UTC)
	space := int64(50 << 30)
	var failed error
	c := newCare("somewhere", slog.New(slog.NewTextHandler(&log, nil)))
	c.now = func() time.Time { return now }
	c.free = func(string) (int64, error) { return space, failed }
	codes := func() string {
		var out []string
		for _, w := range c.warnings() {
			out = append(out, w.Code)
		}
		return strings.Join(out, " ")
	}
	step := func(want string) {
		t.Helper()
		c.look()
		if got := codes(); got != want {
			t.Errorf("warnings %q, want %q", got, want)
		}
	}
	step("")
	space = 1 << 30
	step("disk_low")
	step("disk_low")
	if n := strings.Count(log.String(), "disk space is low"); n != 1 {
		t.Errorf("logged %d times, want once: %s", n, log.String())
	}
	space = 10 << 20
	step("disk_low")
	if text := c.warnings()[0].Message; !strings.Contains(text, "almost full") || !strings.Contains(text, "10 MB") {
		t.Errorf("it says %q", text)
	}
	failed = errors.New("no such disk")
	step("") // not known is not low
	failed, space = nil, 50<<30
	c.backedUp("", errors.New("disk full"))
	step("backup_failed")
	c.backedUp("x.backup", nil)
	step("")
	a, _, err := hall.Open(filepath.Join(t.TempDir(), "a.pem"), "hall.test", now)
	if err != nil {
		t.Fatal(err)
	}
	c.authority = a
	step("")
	now = a.Ends().Add(-10 * 24 * time.Hour)
	step("certificate_ends")
	for _, m := range c.collectors() {
		if m == nil {
			t.Error("a metric is nil")
		}
	}
}
