package backup_test

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"sextant/store"
	"sextant/store/backup"
	"sextant/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

var today = time.Date(2031, 3, 6, 15, 0, 0, 0, time.UTC)

func TestOld(t *testing.T) {
	t.Parallel()
	// Every half hour for a year, as a laptop would that never sleeps.
	var all []backup.Entry
	for at := today; today.Sub(at) < 365*24*time.Hour; at = at.Add(-30 * time.Minute) {
		all = append(all, backup.Entry{Path: at.Format(time.RFC3339), At: at})
	}
	made := backup.Entry{Path: "made", At: today.Add(-40 * 24 * time.Hour), Why: "before-2"}
	long := backup.Entry{Path: "long ago", At: today.Add(-70 * 24 * time.Hour).Add(time.Minute), Why: "before-1"}
	old := backup.Old(append(slices.Clone(all), made, long), today)
	gone := map[string]bool{}
	for _, e := range old {
		gone[e.Path] = true
	}
	var kept []backup.Entry
	for _, e := range all {
		if !gone[e.Path] {
			kept = append(kept, e)
		}
	}
	count := func(from, to time.Duration) (n int) {
		for _, e := range kept {
			if age := today.Sub(e.At); age >= from && age < to {
				n++
			}
		}
		return n
	}
	const day = 24 * time.Hour
	for name, c := range map[string]struct{ got, least, most int }{
		"of the last day":    {count(0, day), 48, 48},
		"of two weeks":       {count(day, 14*day), 12, 14},
		"of half a year":     {count(14*day, 182*day), 23, 25},
		"older":              {count(182*day, 400*day), 0, 0},
		"of yesterday":       {count(day, 2*day), 1, 1},
		"of one day in week": {count(5*day, 6*day), 1, 1},
	} {
		if c.got < c.least || c.got > c.most {
			t.Errorf("%d are kept %s, want %d to %d", c.got, name, c.least, c.most)
		}
	}
	if gone["made"] || !gone["long ago"] {
		t.Errorf("made for a reason: of 40 days gone %v, of 70 days gone %v", gone["made"], gone["long ago"])
	}
	for _, e := range kept {
		if age := today.Sub(e.At); age > day && age < 14*day && e.At.Format("15:04") != "23:30" {
			t.Errorf("%s is kept; the last one of a day should be", e.Path)
		}
	}
	alone := []backup.Entry{{Path: "x", At: today.Add(-1000 * day)}}
	if old := backup.Old(alone, today); len(old) != 0 {
		t.Error("the only back-up is removed because it is old")
	}
}

func TestOldAgainAndAgain(t *testing.T) {
	t.Parallel()
	// What a schedule keeps must not depend on how often it tidied on the way.
	var all []backup.Entry
	now := today
	for range 60 * 4 {
		now = now.Add(6 * time.Hour)
		all = append(all, backup.Entry{Path: now.Format(time.RFC3339), At: now})
		old := backup.Old(all, now)
		all = slices.DeleteFunc(all, func(e backup.Entry) bool { return slices.Contains(old, e) })
	}
	if len(all) < 20 || len(all) > 30 {
		t.Errorf("%d are left after 60 days", len(all))
	}
	if oldest := all[0]; now.Sub(oldest.At) < 50*24*time.Hour {
		t.Errorf("the oldest is of %s: weekly ones were lost", oldest.At)
	}
}

func TestFolder(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := storetest.Event(t, db, nil)
	now := today
	f := &backup.Folder{Dir: filepath.Join(t.TempDir(), "backups"), Now: func() time.Time { return now }}
	write := func(why string) string {
		t.Helper()
		path, err := f.Write(t.Context(), db, why, nil)
		if err != nil {
			t.Fatal(err)
		}
		return path
	}
	first := write("")
	info, err := os.Stat(first)
	if err != nil || filepath.Base(first) != "sextant-20310306T150000Z.backup" || info.Mode().Perm() != 0o600 && runtime.GOOS != "windows" {
		t.Errorf("%s: %v, %v", first, info.Mode(), err)
	}
	now = now.Add(time.Hour)
	if same := write(""); same != first {
		t.Errorf("nothing has changed, and there is another back-up, %s", same)
	}
	storetest.Scout(t, db, ev.ID, "ana")
	second := write("before-2")
	if err := os.WriteFile(filepath.Join(f.Dir, "sextant-notes.txt"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := f.List()
	if err != nil || len(list) != 2 || list[0].Path != second || list[0].Why != "before-2" || !list[1].At.Equal(today) {
		t.Errorf("list %+v, %v", list, err)
	}
	now = now.Add(365 * 24 * time.Hour)
	if err := f.Tidy(); err != nil {
		t.Fatal(err)
	}
	files, err := os.ReadDir(f.Dir)
	if err != nil || len(files) != 2 { // the newest, and what is not ours
		t.Errorf("left: %v, %v", files, err)
	}

	at := storetest.EmptyURL(t)
	file, err := os.Open(second)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if _, err := store.RestoreDump(t.Context(), at, file, store.Options{}); err != nil {
		t.Fatal(err)
	}
	if members, err := storetest.Open(t, at, store.Options{}).Members(t.Context(), ev.ID); err != nil || len(members) != 2 {
		t.Errorf("restored members %v, %v", members, err)
	}

	bad := &backup.Folder{Dir: filepath.Join(second, "below a file")}
	if _, err := bad.Write(t.Context(), db, "", nil); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder that cannot be: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	storetest.Scout(t, db, ev.ID, "bo")
	if _, err := f.Write(ctx, db, "", nil); err == nil {
		t.Error("a back-up that was cut off counts")
	}
	if left, _ := filepath.Glob(filepath.Join(f.Dir, ".sextant*")); len(left) > 0 {
		t.Errorf("half a back-up is left: %v", left)
	}
}

func TestRun(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := storetest.Event(t, db, nil)
	f := &backup.Folder{Dir: t.TempDir()}
	ctx, cancel := context.WithCancel(t.Context())
	paths := make(chan string)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		f.Run(ctx, db, 20*time.Millisecond, func() []store.DumpFile { return nil }, func(path string, err error) {
			if err != nil {
				t.Error(err)
			}
			select {
			case paths <- path:
			case <-ctx.Done():
			}
		})
	}()
	<-paths // at once
	storetest.Scout(t, db, ev.ID, "ana")
	<-paths // may have begun before
	path := <-paths
	cancel()
	<-ended
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	if done, err := store.ReadDump(file); err != nil || done.Rows == 0 {
		t.Errorf("%+v, %v", done, err)
	}
}
