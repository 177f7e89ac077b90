package store_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// fullEvent makes an event that has some of everything, with hostile texts.
func fullEvent(t *testing.T, db *store.DB) (store.Event, store.Member) {
	t.Helper()
	ctx := t.Context()
	a := account(t, db, "Lee")
	ev, lead := storetest.Event(t, db, func(n *store.NewEvent) {
		n.AccountID, n.Nickname, n.Name = &a.ID, "Lee", "Coast \u2028 Cup </script> '; --"
		n.Overrides = json.RawMessage(`{"values":{"full":7}}`)
	})
	must[store.Code](t)(db.CreateCode(ctx, ev.ID, store.NewCode{Hash: []byte("code-secret"), Role: record.RoleScout, ExpiresAt: time.Now().Add(time.Hour)}))
	_, ana, err := db.RedeemCode(ctx, store.Redemption{CodeHash: []byte("code-secret"), Nickname: "ana", DeviceID: "tablet-1", TokenHash: []byte("token-secret"), ExpiresAt: time.Now().Add(time.Hour)})
	if err != nil {
		t.Fatal(err)
	}
	gone := storetest.Scout(t, db, ev.ID, "gone")
	storetest.Append(t, db, ev.ID, storetest.Observed(ev.ID, gone, storetest.Observation("Q2", "40101", "gone", 1)))
	if err := db.RemoveMember(ctx, ev.ID, gone.ID); err != nil {
		t.Fatal(err)
	}
	teams := storetest.Teams(t, db, ev.ID, 12)
	matches := storetest.Matches(teams, 3)
	matches[2].StartsAt = time.Time{}
	matches[0].Red.Surrogates = matches[0].Red.Teams[:1]
	results(matches[:2])
	revs, _, err := db.ResultRevisions(ctx, ev.ID, matches, author(lead))
	if err != nil {
		t.Fatal(err)
	}
	must[store.Replaced](t)(db.ReplaceSchedule(ctx, ev.ID, matches, revs, store.Replace{}))
	o := storetest.Observation("Q1", "40101", "ana", 3)
	o.Note, o.Taps = "a\nb\t\"'\u2029<&>", []record.Tap{{MS: 1, Action: "stone", Step: 1}, {MS: 2, Action: "stone", Step: 1, HasXY: true, X: 1.5, Y: -0.25}}
	first := storetest.Observed(ev.ID, ana, o)
	storetest.Append(t, db, ev.ID, first)
	storetest.Append(t, db, ev.ID,
		storetest.Revision(record.KindObservation, first.RecordID, lead, o, first.RevisionID),
		storetest.Revision(record.KindObservation, first.RecordID, ana, o, first.RevisionID))
	list := uuid.Must(uuid.NewV7())
	base := storetest.Revision(record.KindEntry, record.EntryID(list, "40102"), lead, map[string]any{"list": list, "team": "40102", "key": "a0"})
	storetest.Append(t, db, ev.ID, storetest.Revision(record.KindList, list, lead, map[string]any{"name": "Ours"}), base)
	storetest.Append(t, db, ev.ID,
		storetest.Revision(record.KindEntry, base.RecordID, lead, map[string]any{"tier": 1}, base.RevisionID),
		storetest.Revision(record.KindEntry, base.RecordID, lead, map[string]any{"key": "a1"}, base.RevisionID))
	if err := db.Audit(ctx, ev.ID, lead.ID, "removed a member", map[string]any{"nickname": "gone", "n": 1}); err != nil {
		t.Fatal(err)
	}
	if err := db.Audit(ctx, ev.ID, uuid.Nil, "started", nil); err != nil {
		t.Fatal(err)
	}
	return must[store.Event](t)(db.Event(ctx, ev.ID)), lead
}

func export(t *testing.T, db *store.DB, event uuid.UUID) string {
	t.Helper()
	var out bytes.Buffer
	if err := db.ExportNDJSON(t.Context(), event, &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// TestExportRestoresEverything into another database: records, feed, schedule
// and all ids are the same, and a second export is the first but for what the
// restoring itself adds.
func TestExportRestoresEverything(t *testing.T) {
	t.Parallel()
	db, other := storetest.New(t), storetest.New(t)
	ctx := t.Context()
	ev, lead := fullEvent(t, db)
	file := export(t, db, ev.ID)
	mo := account(t, other, "lee") // an account of the other server
	got, err := other.ImportNDJSON(ctx, strings.NewReader(file), store.Import{AccountID: mo.ID, Nickname: "lee"})
	if err != nil {
		t.Fatal(err)
	}
	if got.Event.ID != ev.ID || got.Members != 3 || got.Revisions != 12 || got.Known != 0 {
		t.Errorf("imported %+v", got)
	}

	want := ev
	want.ChangeNo = ev.ChangeNo + store.RestoreGap + 1
	want.Version, want.DataNo = want.ChangeNo, ev.DataNo+1
	same(t, "event", want, got.Event)
	same(t, "records", must[[]store.Record](t)(db.Records(ctx, ev.ID, store.Filter{})), must[[]store.Record](t)(other.Records(ctx, ev.ID, store.Filter{})))
	for _, r := range must[[]store.Record](t)(db.Records(ctx, ev.ID, store.Filter{})) {
		same(t, "revisions", must[[]store.Kept](t)(db.Revisions(ctx, ev.ID, r.ID)), must[[]store.Kept](t)(other.Revisions(ctx, ev.ID, r.ID)))
	}
	a, _, errA := db.Load(ctx, ev.ID)
	b, _, errB := other.Load(ctx, ev.ID)
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	same(t, "what an analysis reads", a, b)
	for _, viewer := range []store.Viewer{{Role: record.RoleLead}, {Role: record.RoleScout, MemberID: a0(t, db, ev.ID, "ana").ID}} {
		was, is := feed(t, db, ev.ID, 0, viewer), feed(t, other, ev.ID, 0, viewer)
		same(t, "feed", was, is[:len(was)])
		same(t, "end of the feed", []store.FeedItem{{ChangeNo: want.ChangeNo, Kind: store.ChangeEvent}}, is[len(was):])
	}
	// The lead of that nickname is the account's now.
	if m := must[store.Member](t)(other.MemberOfAccount(ctx, ev.ID, mo.ID)); m.ID != lead.ID {
		t.Errorf("the account is %+v", m)
	}
	again := export(t, other, ev.ID)
	if diff := cmp.Diff(comparable(t, file, 0), comparable(t, again, ev.ChangeNo)); diff != "" {
		t.Errorf("second export (-first +second):\n%s", diff)
	}
	// A device that saw numbers which the export does not know starts again,
	// also when the restored event has gone on since.
	for i := range 8 {
		storetest.Scout(t, other, ev.ID, fmt.Sprint("later ", i))
	}
	for after, wantReset := range map[int64]bool{ev.ChangeNo: false, ev.ChangeNo + 3: true, want.ChangeNo: false} {
		if _, _, reset, err := other.Since(ctx, ev.ID, after, 10, store.Viewer{}); err != nil || reset != wantReset {
			t.Errorf("after %d: reset %v, %v", after, reset, err)
		}
	}

	for _, secret := range []string{"code-secret", "token-secret", `\x`, "hash\":\"hash"} {
		if strings.Contains(file, secret) {
			t.Errorf("%q is in the export", secret)
		}
	}
}

func a0(t *testing.T, db *store.DB, event uuid.UUID, nickname string) store.Member {
	t.Helper()
	all := must[[]store.Member](t)(db.Members(t.Context(), event))
	i := slices.IndexFunc(all, func(m store.Member) bool { return m.Nickname == nickname })
	if i < 0 {
		t.Fatalf("no member %s", nickname)
	}
	return all[i]
}

// comparable are the lines of an export without what a restoring changes: the
// head, the event's counters and changes after the last one restored (0: keep).
func comparable(t *testing.T, file string, last int64) []map[string]any {
	t.Helper()
	var out []map[string]any
	for line := range strings.Lines(file) {
		var l map[string]any
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatal(err)
		}
		switch l["type"] {
		case "sextant_event", "end":
			continue
		case "event":
			delete(l, "change_no")
			delete(l, "data_no")
		case "change":
			if last > 0 && l["change_no"].(float64) > float64(last) {
				continue
			}
		}
		out = append(out, l)
	}
	return out
}

// TestImportIntoTheEvent takes over what is missing, once.
func TestImportIntoTheEvent(t *testing.T) {
	t.Parallel()
	db, old := storetest.New(t), storetest.New(t)
	ctx := t.Context()
	ev, _ := fullEvent(t, db)
	if _, err := old.ImportNDJSON(ctx, strings.NewReader(export(t, db, ev.ID)), store.Import{}); err != nil {
		t.Fatal(err)
	}
	// The first server goes on.
	ben := storetest.Scout(t, db, ev.ID, "ben")
	more := storetest.Observed(ev.ID, ben, storetest.Observation("Q2", "40107", "ben", 9))
	storetest.Append(t, db, ev.ID, more)
	name := "Renamed"
	must[store.Event](t)(db.UpdateEvent(ctx, ev.ID, store.EventPatch{Name: &name}, nil))
	// And on the second one somebody took the nickname.
	storetest.Scout(t, old, ev.ID, "BEN")
	before := must[store.Event](t)(old.Event(ctx, ev.ID))

	file := export(t, db, ev.ID)
	dry, err := old.ImportNDJSON(ctx, strings.NewReader(file), store.Import{Into: ev.ID, DryRun: true})
	if err != nil || dry.Revisions != 1 || dry.Members != 1 {
		t.Errorf("dry run %+v, %v", dry, err)
	}
	same(t, "after the dry run", before, must[store.Event](t)(old.Event(ctx, ev.ID)))
	got, err := old.ImportNDJSON(ctx, strings.NewReader(file), store.Import{Into: ev.ID})
	if err != nil || got.Revisions != 1 || got.Known != 12 || got.Members != 1 || len(got.Refused) != 0 {
		t.Errorf("imported %+v, %v", got, err)
	}
	if got.Event.Name != before.Name || got.Event.ChangeNo != before.ChangeNo+2 {
		t.Errorf("event %+v", got.Event)
	}
	r := must[store.Record](t)(old.Record(ctx, ev.ID, more.RecordID))
	if r.Owner != ben.ID || r.Author != "ben" || r.Role != record.RoleScout {
		t.Errorf("got %+v", r)
	}
	got, err = old.ImportNDJSON(ctx, strings.NewReader(file), store.Import{Into: ev.ID})
	if err != nil || got.Revisions != 0 || got.Known != 13 || got.Members != 0 {
		t.Errorf("a second time %+v, %v", got, err)
	}

	_, err = old.ImportNDJSON(ctx, strings.NewReader(file), store.Import{})
	wantError(t, err, store.ErrExists)
	stranger, _ := storetest.Event(t, old, nil)
	_, err = old.ImportNDJSON(ctx, strings.NewReader(file), store.Import{Into: stranger.ID})
	wantError(t, err, store.ErrInvalid)
	empty := storetest.New(t)
	_, err = empty.ImportNDJSON(ctx, strings.NewReader(file), store.Import{Into: ev.ID})
	wantError(t, err, store.ErrNotFound)
	_, err = empty.ImportNDJSON(ctx, strings.NewReader(file), store.Import{AccountID: uuid.New()})
	wantError(t, err, store.ErrNotFound)
	_, err = empty.Event(ctx, ev.ID)
	wantError(t, err, store.ErrNotFound) // nothing is left of it
	if _, err := empty.ImportNDJSON(ctx, strings.NewReader(file), store.Import{DryRun: true}); err != nil {
		t.Error(err)
	}
	_, err = empty.Event(ctx, ev.ID)
	wantError(t, err, store.ErrNotFound)
}

// TestImportRefuses: a file that was cut, changed or is something else names
// its line, and nothing is imported.
func TestImportRefuses(t *testing.T) {
	t.Parallel()
	db, other := storetest.New(t), storetest.New(t)
	ctx := t.Context()
	ev, _ := fullEvent(t, db)
	file := export(t, db, ev.ID)
	lines := slices.Collect(strings.Lines(file))
	find := func(part string) int {
		t.Helper()
		i := slices.IndexFunc(lines, func(l string) bool { return strings.Contains(l, part) })
		if i < 0 {
			t.Fatalf("no line with %s", part)
		}
		return i
	}
	change := func(part, old, next string) (string, int) {
		t.Helper()
		i := find(part)
		mine := slices.Clone(lines)
		mine[i] = strings.Replace(mine[i], old, next, 1)
		if mine[i] == lines[i] {
			t.Fatalf("line %d has no %s: %s", i+1, old, lines[i])
		}
		return strings.Join(mine, ""), i + 1
	}
	type broken struct {
		file string
		line int // 0: no line is at fault
		text string
	}
	tests := map[string]broken{
		"Empty":     {"", 1, "empty"},
		"CSV":       {"team,name\n1,x\n", 1, "not a line of JSON"},
		"OtherJSON": {"{\"type\":\"FeatureCollection\"}\n", 1, "not the export of an event"},
		"CutOff":    {strings.Join(lines[:len(lines)-4], ""), len(lines) - 3, "cut off"},
		"CutInLine": {file[:len(file)-10], len(lines), "not a line of JSON"},
		"Missing":   {strings.Join(slices.Delete(slices.Clone(lines), 5, 6), ""), len(lines) - 1, "some are missing"},
		"Behind":    {file + lines[3], len(lines) + 1, "behind the end"},
		"Huge":      {lines[0] + `{"type":"team","name":"` + strings.Repeat("x", 17<<20) + "\"}\n", 2, "longer than"},
	}
	for name, c := range map[string]struct{ part, old, next, text string }{
		"Version":     {`"sextant_event"`, `"version":1`, `"version":2`, "version 2"},
		"NoID":        {`"sextant_event"`, ev.ID.String(), uuid.Nil.String(), "event_id"},
		"Type":        {`"type":"team"`, `"type":"team"`, `"type":"robot"`, "robot"},
		"GameMissing": {`"type":"game"`, `"type":"game","hash":"`, `"type":"game","hash":"0`, "game"},
		"Match":       {`"type":"match"`, `"Q1"`, `"Z1"`, "Z1"},
		"Body":        {`"kind":"observation"`, `"match":"Q2"`, `"match":"Z2"`, "no observation"},
		"Role":        {`"type":"revision"`, `"role":"scout"`, `"role":"king"`, "no role"},
		"BadID":       {`"type":"revision"`, `"revision_id":"`, `"revision_id":"x`, "UUID"},
	} {
		file, line := change(c.part, c.old, c.next)
		if name == "GameMissing" {
			line++ // it is seen with the event that needs it
		}
		tests[name] = broken{file, line, c.text}
	}
	// What the database refuses has no line.
	again := slices.Insert(slices.Clone(lines), find(`"type":"team"`), lines[find(`"type":"team"`)])
	again[len(again)-1] = strings.Replace(again[len(again)-1], fmt.Sprint(len(lines)), fmt.Sprint(len(lines)+1), 1)
	tests["TeamTwice"] = broken{strings.Join(again, ""), 0, "team"}
	text, _ := change(`"type":"team"`, `"team":"40101"`, `"team":"0"`)
	tests["TeamNumber"] = broken{text, 0, "team"}
	text, _ = change(`"type":"change"`, `"audience":"all"`, `"audience":"world"`)
	tests["Audience"] = broken{text, 0, "audience"}
	text, _ = change(`"type":"game"`, `Cairn`, `Cairns`)
	tests["GameHash"] = broken{text, 0, "hash"}

	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := other.ImportNDJSON(ctx, strings.NewReader(test.file), store.Import{})
			if err == nil || !strings.Contains(err.Error(), test.text) {
				t.Fatalf("got %v, want %q", err, test.text)
			}
			var line *store.LineError
			switch {
			case test.line == 0:
				wantError(t, err, store.ErrInvalid)
			case !errorsAs(err, &line):
				t.Errorf("got %v, want a line", err)
			case line.Line != test.line:
				t.Errorf("line %d, want %d: %v", line.Line, test.line, err)
			}
			_, err = other.Event(ctx, ev.ID)
			wantError(t, err, store.ErrNotFound)
		})
	}
	if _, err := other.ImportNDJSON(ctx, strings.NewReader(file), store.Import{}); err != nil {
		t.Errorf("the file itself: %v", err)
	}
}

// TestExportIsOneState: an export that is taken while devices send is whole:
// it has every change up to its number and none above.
func TestExportIsOneState(t *testing.T) {
	t.Parallel()
	db, other := storetest.New(t), storetest.New(t)
	ctx := t.Context()
	ev, lead := storetest.Event(t, db, nil)
	var wg sync.WaitGroup
	stop := make(chan struct{})
	for range 3 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				items := []store.Incoming{
					storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "x"}),
					storetest.Revision(record.KindNote, uuid.Must(uuid.NewV7()), lead, map[string]any{"text": "y"}),
				}
				if _, _, err := db.Append(ctx, ev.ID, items); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	var file string
	for range 10 {
		file = export(t, db, ev.ID)
		var changeNo float64
		numbers := map[float64]bool{}
		for _, l := range linesOf(t, file) {
			switch l["type"] {
			case "event":
				changeNo = l["change_no"].(float64)
			case "revision", "change":
				numbers[l["change_no"].(float64)] = true
			}
		}
		for n := 1.0; n <= changeNo; n++ {
			if !numbers[n] {
				t.Fatalf("change %v of %v is not in the export", n, changeNo)
			}
		}
		if len(numbers) != int(changeNo) {
			t.Errorf("%d changes, the event says %v", len(numbers), changeNo)
		}
	}
	close(stop)
	wg.Wait()
	if _, err := other.ImportNDJSON(ctx, strings.NewReader(file), store.Import{}); err != nil {
		t.Error(err)
	}
}

func linesOf(t *testing.T, file string) []map[string]any {
	t.Helper()
	var out []map[string]any
	for line := range strings.Lines(file) {
		var l map[string]any
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatal(err)
		}
		out = append(out, l)
	}
	return out
}

type failingWriter struct{ room int }

func (w *failingWriter) Write(p []byte) (int, error) {
	if w.room -= len(p); w.room < 0 {
		return 0, fmt.Errorf("no room")
	}
	return len(p), nil
}

func TestExportFails(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	ev, _ := fullEvent(t, db)
	err := db.ExportNDJSON(t.Context(), ev.ID, &failingWriter{})
	if err == nil || !strings.Contains(err.Error(), "no room") {
		t.Errorf("got %v", err)
	}
	var out bytes.Buffer
	wantError(t, db.ExportNDJSON(t.Context(), uuid.New(), &out), store.ErrNotFound)
	if out.Len() != 0 {
		t.Errorf("wrote %q", out.String())
	}
}
