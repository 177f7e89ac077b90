package store_test

import (
	"bytes"
	"compress/gzip"
	"io"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// wholeDatabase reads every row of every table, as the catalogue lists them.
// What restoring moves on purpose is left out.
func wholeDatabase(t *testing.T, conn *pgx.Conn) map[string][]string {
	t.Helper()
	rows, err := conn.Query(t.Context(), `select table_name::text from information_schema.tables where table_schema = 'public' and table_type = 'BASE TABLE'`)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for _, name := range must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string])) {
		rows, err := conn.Query(t.Context(), `
			select (to_jsonb(x) - case when $1 = 'event' then array['change_no', 'data_no'] else '{}' end)::text
			from `+name+` x
			where not ($1 = 'change' and (to_jsonb(x)->>'change_no')::bigint > $2)
			order by 1`, name, store.RestoreGap)
		if err != nil {
			t.Fatal(err)
		}
		out[name] = must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string]))
	}
	return out
}

func dump(t *testing.T, db *store.DB, files ...store.DumpFile) (*bytes.Buffer, store.Dumped) {
	t.Helper()
	var out bytes.Buffer
	done := must[store.Dumped](t)(db.Dump(t.Context(), &out, files))
	return &out, done
}

// TestDumpRestoresEverything: every row of every table, sessions, codes and
// password hashes too, in an empty database and in one that has the tables.
func TestDumpRestoresEverything(t *testing.T) {
	t.Parallel()
	at := storetest.URL(t)
	db := storetest.Open(t, at, store.Options{})
	ev, _ := fullEvent(t, db)
	if err := db.SetSetting(t.Context(), "odd", "a\\.\n\\.\n\tb\u2028\\N"); err != nil {
		t.Fatal(err)
	}
	if err := db.SaveAnalysis(t.Context(), ev.ID, ev.DataNo, "engine", "options", []byte(`{}`)); err != nil {
		t.Fatal(err)
	}
	file, done := dump(t, db, store.DumpFile{Name: "hall/authority.pem", Text: "a\nkey"})
	want := wholeDatabase(t, storetest.Conn(t, at))
	for _, name := range []string{"account", "session", "code", "audit", "record", "revision", "seat", "setting", "analysis"} {
		if len(want[name]) == 0 {
			t.Fatalf("table %s is empty: the test would not see that it is lost", name)
		}
	}
	want["analysis"] = nil // computed again

	again, second := dump(t, db, store.DumpFile{Name: "hall/authority.pem", Text: "a\nkey"})
	if second.Digest != done.Digest || again.Len() == 0 {
		t.Error("two dumps of the same have different digests")
	}
	for _, target := range []string{storetest.EmptyURL(t), storetest.URL(t)} {
		got, err := store.RestoreDump(t.Context(), target, bytes.NewReader(file.Bytes()), store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if got.Rows != done.Rows || len(got.Files) != 1 || got.Files[0].Text != "a\nkey" || !got.MadeAt.Equal(done.MadeAt) {
			t.Errorf("restored %+v, dumped %+v", got, done)
		}
		if diff := cmp.Diff(want, wholeDatabase(t, storetest.Conn(t, target)), cmp.Transformer("nil", func(s []string) string { return strings.Join(s, "\n") })); diff != "" {
			t.Errorf("the restored database differs (-want +got):\n%s", diff)
		}
		restored := storetest.Open(t, target, store.Options{})
		after := must[store.Event](t)(restored.Event(t.Context(), ev.ID))
		if after.ChangeNo != ev.ChangeNo+store.RestoreGap+1 || after.DataNo <= ev.DataNo {
			t.Errorf("change %d after %d, data %d after %d", after.ChangeNo, ev.ChangeNo, after.DataNo, ev.DataNo)
		}
		// A device that saw more than the back-up knows starts again.
		lead := store.Viewer{Role: record.RoleLead}
		if _, _, reset, err := restored.Since(t.Context(), ev.ID, ev.ChangeNo+3, 10, lead); err != nil || !reset {
			t.Errorf("a device ahead of the back-up: reset %v, %v", reset, err)
		}
		if items := feed(t, restored, ev.ID, 0, lead); int64(len(items)) != ev.ChangeNo+1 {
			t.Errorf("%d items in the feed, want %d", len(items), ev.ChangeNo+1)
		}
		if _, err := restored.Session(t.Context(), ev.ID, []byte("token-secret")); err != nil {
			t.Errorf("a tablet's session: %v", err)
		}
		storetest.Scout(t, restored, ev.ID, "new") // and life goes on
	}
}

// TestDumpIsOneMoment: what is written while the dump is under way is not in it.
func TestDumpIsOneMoment(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := fullEvent(t, db)
	before, first := dump(t, db)
	var once sync.Once
	// gzip writes its head with the dump's, which is after the dump's moment.
	during := must[store.Dumped](t)(db.Dump(t.Context(), hookWriter{func() {
		once.Do(func() {
			if err := db.SetPassword(t.Context(), "Lee", "another hash"); err != nil {
				t.Error(err)
			}
			storetest.Scout(t, db, ev.ID, "late")
		})
	}}, nil))
	if during.Digest != first.Digest {
		t.Error("a dump mixes what was before with what came while it was written")
	}
	if _, last := dump(t, db); last.Digest == first.Digest || before.Len() == 0 {
		t.Error("the change is not seen afterwards")
	}
}

type hookWriter struct{ hook func() }

func (h hookWriter) Write(p []byte) (int, error) { h.hook(); return len(p), nil }

// TestDumpHasAllKinds: a sequence would be lost, so there must be none.
func TestDumpHasAllKinds(t *testing.T) {
	t.Parallel()
	conn := storetest.Conn(t, storetest.URL(t))
	rows, err := conn.Query(t.Context(), `
		select relname::text || ' ' || relkind::text
		from pg_class
		where relnamespace = 'public'::regnamespace and relkind not in ('r', 'i')`)
	if err != nil {
		t.Fatal(err)
	}
	if found := must[[]string](t)(pgx.CollectRows(rows, pgx.RowTo[string])); len(found) > 0 {
		t.Errorf("a dump does not hold %v: teach store/dump.go", found)
	}
}

func TestRestoreDumpRefuses(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	fullEvent(t, db)
	file, _ := dump(t, db)
	text := unpack(t, file.Bytes())
	target := storetest.URL(t)
	restore := func(file []byte) error {
		_, err := store.RestoreDump(t.Context(), target, bytes.NewReader(file), store.Options{})
		return err
	}
	edit := func(old, new string) []byte {
		if !strings.Contains(text, old) {
			t.Fatalf("the dump has no %q", old)
		}
		return pack(t, strings.Replace(text, old, new, 1))
	}
	tests := map[string]struct {
		file    []byte
		message string
	}{
		"Nothing":      {nil, "not a back-up"},
		"AnotherFile":  {[]byte("PK\x03\x04 something"), "not a back-up"},
		"AnotherForm":  {pack(t, `{"type":"sextant_event","version":1}`+"\n"), "not a back-up"},
		"Newer":        {edit(`"migration":`, `"migration":9`), "newer Sextant"},
		"NewerForm":    {edit(`"version":1`, `"version":2`), "newer one"},
		"Half":         {file.Bytes()[:file.Len()/2], "cut off"},
		"WithoutEnd":   {pack(t, text[:strings.LastIndex(strings.TrimSpace(text), "\n")+1]), "cut off"},
		"LessRows":     {pack(t, dropRow(t, text)), "rows and this file has"},
		"Damaged":      {append(bytes.Clone(file.Bytes()[:file.Len()-8]), 0, 0, 0, 0, 0, 0, 0, 0), "damaged"},
		"UnknownTable": {edit(`"name":"team"`, `"name":"pg_authid"`), "pg_authid"},
		"UnknownLine":  {edit(`{"type":"end"`, `{"type":"later"`), "newer Sextant"},
		"Migrations":   {edit(`"name":"team"`, `"name":"schema_migrations"`), "no place"},
		"More":         {append(bytes.Clone(file.Bytes()), pack(t, "x\n")...), "damaged"},
	}
	for name, tt := range tests {
		if err := restore(tt.file); err == nil || !strings.Contains(err.Error(), tt.message) {
			t.Errorf("%s: %v, want %q", name, err, tt.message)
		}
		for table, rows := range wholeDatabase(t, storetest.Conn(t, target)) {
			if len(rows) > 0 && table != "schema_migrations" {
				t.Errorf("%s: table %s has rows now", name, table)
			}
		}
	}
	if err := restore(file.Bytes()); err != nil {
		t.Fatal(err)
	}
	wantError(t, restore(file.Bytes()), store.ErrExists) // never over what is there
}

func TestVersion(t *testing.T) {
	t.Parallel()
	have, newest, err := store.Version(t.Context(), storetest.EmptyURL(t))
	if err != nil || have != 0 || newest < 1 {
		t.Errorf("an empty database: %d of %d, %v", have, newest, err)
	}
	if have, _, err = store.Version(t.Context(), storetest.URL(t)); err != nil || have != newest {
		t.Errorf("a new one: %d of %d, %v", have, newest, err)
	}
}

func pack(t testing.TB, text string) []byte {
	t.Helper()
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	if _, err := io.WriteString(w, text); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func unpack(t testing.TB, file []byte) string {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	return string(must[[]byte](t)(io.ReadAll(r)))
}

// dropRow takes one row of the audit away.
func dropRow(t *testing.T, text string) string {
	t.Helper()
	lines := strings.SplitAfter(text, "\n")
	for i, l := range lines {
		if strings.Contains(l, `"name":"audit"`) {
			return strings.Join(append(append([]string{}, lines[:i+1]...), lines[i+2:]...), "")
		}
	}
	t.Fatal("no table audit")
	return ""
}

func FuzzReadDump(f *testing.F) {
	f.Add("")
	f.Add(`{"type":"sextant_backup","version":1,"migration":1}` + "\n" + `{"type":"table","name":"a","columns":["b"]}` + "\nx\ty\n\\.\n" + `{"type":"end","rows":1}` + "\n")
	f.Add(`{"type":"sextant_backup","version":1,"migration":1}` + "\n" + `{"type":"end"}` + "\n")
	f.Add(`{"type":"sextant_backup","version":1,"migration":1}` + "\n" + `{"type":"table"}` + "\n\\.")
	f.Fuzz(func(t *testing.T, text string) {
		done, err := store.ReadDump(bytes.NewReader(pack(t, text)))
		if err == nil && (done.Migration < 1 || int(done.Rows) > strings.Count(text, "\n") || !strings.Contains(text, "end")) {
			t.Errorf("taken for a back-up: %+v", done)
		}
		// Bytes that were never packed must not do harm either.
		_, _ = store.ReadDump(strings.NewReader(text))
	})
}

func TestReadDump(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	fullEvent(t, db)
	file, done := dump(t, db)
	got, err := store.ReadDump(file)
	if err != nil || got.Rows != done.Rows || got.Migration != done.Migration || time.Since(got.MadeAt) > time.Hour {
		t.Errorf("read %+v (%v), dumped %+v", got, err, done)
	}
}
