package api

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
)

// filled is a lead's event with something of everything.
func filled(t *testing.T) *client {
	t.Helper()
	lead := newFixture(t).lead().withSchedule(10, 6)
	observations := "match,team,scout,deck,deck_missed,hold,mooring,absent,note\n"
	for m := range 6 {
		observations += fmt.Sprintf("Q%d,%s,s01,%d,1,2,lifted,0,\"said \"\"go\"\", then left\"\n", m+1, firstOf(m), m%4)
	}
	for _, table := range [][2]string{
		{"observations", observations},
		{"marks", "team,match,kind,note\n40101,Q4,repaired,new arm\n"},
		{"picklist", "rank,team,tier,never,reason,note\n1,40105,1,0,,quick\n2,40103,1,0,,\n3,40101,,1,breaks,\n"},
	} {
		lead.send("POST", ".import?table="+table[0]+"&name="+table[0]+".csv", table[1], "Content-Type", csvType).want(200)
	}
	return lead
}

// firstOf is the first robot of a match of matchesCSV.
func firstOf(m int) record.TeamID { return teamNo(m) }

func (c *client) lists() []recordView {
	c.f.t.Helper()
	var out struct{ Records []recordView }
	c.get(".records?kind=list").want(200, &out)
	return out.Records
}

// TestCSVRoundTrip exports, imports into another event, and exports again.
func TestCSVRoundTrip(t *testing.T) {
	t.Parallel()
	from := filled(t)
	to := newFixture(t).lead()
	list := from.lists()[0].RecordID.String()
	first := map[string][]byte{}
	for _, table := range []string{"teams", "matches", "observations", "marks", "picklist"} {
		query := "?form=csv&table=" + table
		if table == "picklist" {
			query += "&list=" + list
		}
		a := from.get(".export" + query).want(200)
		if ct := a.header.Get("Content-Type"); ct != "text/csv; charset=utf-8" {
			t.Errorf("%s: Content-Type %q", table, ct)
		}
		first[table] = a.body
		to.send("POST", ".import?table="+table, a.body, "Content-Type", csvType).want(200)
	}
	for table, want := range first {
		query := "?form=csv&table=" + table
		if table == "picklist" {
			query += "&list=" + to.lists()[0].RecordID.String()
		}
		got := to.get(".export" + query).want(200).body
		if diff := cmp.Diff(string(want), string(got)); diff != "" {
			t.Errorf("%s changed on its way: %s", table, diff)
		}
		if bytes.Count(want, []byte("\n")) < 2 {
			t.Errorf("%s is empty: the test compares nothing", table)
		}
	}
	var a, b estimates
	from.get(".estimates").want(200, &a)
	to.get(".estimates").want(200, &b)
	a.Freshness, b.Freshness = Freshness{}, Freshness{}
	if diff := cmp.Diff(a, b); diff != "" || len(a.Teams) != teamCount {
		t.Errorf("the same tables give other estimates: %s", diff)
	}

	// The same file again changes nothing.
	for _, table := range []string{"teams", "matches", "observations", "marks"} {
		var r report
		to.send("POST", ".import?table="+table, first[table], "Content-Type", csvType).want(200, &r)
		if r.Added+r.Changed+r.Removed != 0 {
			t.Errorf("%s imported again changes %+v", table, r)
		}
	}
	from.get(".export?table=picklist").problem(notFound, "list")
	from.get(".export?table=picklist&list="+uuid.NewString()).problem(notFound, "list")
}

// TestImportIntoCopy holds that a dated copy is not filled anew.
func TestImportIntoCopy(t *testing.T) {
	t.Parallel()
	lead := filled(t)
	list := lead.lists()[0].RecordID
	path := "table=picklist&list=" + list.String()
	before := lead.get(".export?" + path).want(200).body
	frozen := sentRevision{
		RevisionID: uuid.Must(uuid.NewV7()), RecordID: list, Parents: []uuid.UUID{}, Kind: "list", Lamport: 9, MadeAt: time.Now(),
		Body: mustJSON(t, map[string]any{"frozen": "2031-03-06T21:15:00Z"}),
	}
	if o := lead.push(frozen).Items[0]; o.Outcome != "stored" {
		t.Fatalf("%+v", o)
	}
	lead.send("POST", ".import?"+path, "rank,team\n1,40102\n", "Content-Type", csvType).problem(invalid, "list")
	if after := lead.get(".export?" + path).want(200).body; !bytes.Equal(before, after) {
		t.Errorf("the copy changed:\n%s", after)
	}
}

// TestImportPreview holds that a preview of good data writes nothing and tells
// what the import then does.
func TestImportPreview(t *testing.T) {
	t.Parallel()
	from, to := filled(t), newFixture(t).lead()
	list := from.lists()[0].RecordID.String()
	for _, table := range []string{"teams", "matches", "observations", "marks", "picklist"} {
		csv := from.get(".export?form=csv&table=" + table + "&list=" + list).want(200).body
		before := to.get(".sync").want(200).body
		var preview, done report
		to.send("POST", ".import?preview=1&table="+table, csv, "Content-Type", csvType).want(200, &preview)
		if after := to.get(".sync").want(200).body; !bytes.Equal(before, after) {
			t.Errorf("a preview of %s writes: %s", table, after)
		}
		to.send("POST", ".import?table="+table, csv, "Content-Type", csvType).want(200, &done)
		if diff := cmp.Diff(preview, done); diff != "" || done.Added == 0 {
			t.Errorf("%s: the preview tells something else: %s", table, diff)
		}
	}
}

func TestExportZip(t *testing.T) {
	t.Parallel()
	lead := filled(t)
	a := lead.get(".export").want(200)
	if d := a.header.Get("Content-Disposition"); d != `attachment; filename="saltmarsh-test.zip"` {
		t.Errorf("Content-Disposition %q", d)
	}
	z, err := zip.NewReader(bytes.NewReader(a.body), int64(len(a.body)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range z.File {
		names = append(names, f.Name)
		if f.Name == "game.json" {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			text, err := io.ReadAll(r)
			var given bytes.Buffer // json.Marshal sent it without its spaces
			if err := json.Compact(&given, gameFile(t)); err != nil {
				t.Fatal(err)
			}
			if err != nil || !bytes.Equal(text, given.Bytes()) {
				t.Errorf("the game file is not the one that was given (%v)", err)
			}
		}
	}
	got := strings.Join(names, " ")
	if want := "game.json event.json teams.csv matches.csv observations.csv marks.csv picklist-picklist-"; !strings.HasPrefix(got, want) {
		t.Errorf("files %s, want %s…", got, want)
	}
	if again := lead.get(".export").want(200); !bytes.Equal(a.body, again.body) {
		t.Error("the same data give other bytes")
	}
}

// TestArchiveRestores takes an event to another server.
func TestArchiveRestores(t *testing.T) {
	t.Parallel()
	from := filled(t)
	a := from.get(".export?form=ndjson").want(200)
	if ct := a.header.Get("Content-Type"); ct != mediaNDJSON {
		t.Errorf("Content-Type %q", ct)
	}
	to := newFixture(t).account()
	var r restored
	to.send("POST", "/api/restore?preview=1", a.body, "Content-Type", mediaNDJSON).want(201, &r)
	if r.Report.Added == 0 || r.EventID != from.event {
		t.Errorf("preview %+v", r)
	}
	var events struct{ Events []eventOfMember }
	to.get("/api/events").want(200, &events)
	if len(events.Events) != 0 {
		t.Fatal("a preview has restored the event")
	}
	to.send("POST", "/api/restore", a.body, "Content-Type", mediaNDJSON).want(201, &r)
	to.event = r.EventID
	for _, path := range []string{".records", ".teams", ".matches", ".game", ".export?form=csv"} {
		if diff := cmp.Diff(string(from.get(path).want(200).body), string(to.get(path).want(200).body)); diff != "" {
			t.Errorf("%s differs: %.500s", path, diff)
		}
	}
	to.send("POST", "/api/restore", a.body, "Content-Type", mediaNDJSON).problem(alreadyThere)
	var again report
	to.send("POST", ".import", a.body, "Content-Type", mediaNDJSON).want(200, &again)
	if again.Added != 0 {
		t.Errorf("the event's own file adds %+v", again)
	}
	for _, broken := range []string{"", "not json\n", "{}\n", string(a.body[:len(a.body)/2])} {
		to.send("POST", ".import", broken, "Content-Type", mediaNDJSON)
		if p := to.send("POST", "/api/restore", broken, "Content-Type", mediaNDJSON); p.status < 400 || p.status >= 500 {
			t.Errorf("a broken file (%.20q) is answered %d %s", broken, p.status, p.body)
		}
	}
	other := newFixture(t).lead()
	other.send("POST", ".import", a.body, "Content-Type", mediaNDJSON).problem(invalid, "another event")
}

// TestExportRedacted: what is given away names nobody and has no list, as a
// table, as all tables and as an event, which is then another one.
func TestExportRedacted(t *testing.T) {
	t.Parallel()
	from := filled(t)
	table := string(from.get(".export?table=observations&redact=people").want(200).body)
	if strings.Contains(table, "then left") || !strings.Contains(table, ",s01,") {
		t.Errorf("the table says %.300s", table)
	}
	for query, want := range map[string]bool{"redact=people": true, "redact=strategy": false, "redact=people,strategy": false} {
		z := from.get(".export?" + query).want(200).body
		if got := bytes.Contains(z, []byte("picklist-")); got != want {
			t.Errorf("%s: a list is in the zip file: %v", query, got)
		}
	}
	from.get(".export?table=picklist&redact=strategy").problem(invalid, "nothing but plans")
	from.get(".export?redact=teams").problem(invalid)
	a := from.get(".export?form=ndjson&redact=people,strategy").want(200)
	var r restored
	from.send("POST", "/api/restore", a.body, "Content-Type", mediaNDJSON).want(201, &r)
	if r.EventID == from.event {
		t.Error("it was restored over the event that it was made of")
	}
	here, there := from.event, r.EventID
	want := from.get(".export?table=observations&redact=people").want(200).body
	from.event = there
	if got := from.get(".export?table=observations").want(200).body; !bytes.Equal(got, want) {
		t.Errorf("the table of the event that was given away differs: %s", got)
	}
	from.event = here
	from.send("POST", ".import", a.body, "Content-Type", mediaNDJSON).problem(invalid, "another event")
}

// TestPickListImportReplaces fills a list that is there.
func TestPickListImportReplaces(t *testing.T) {
	t.Parallel()
	lead := filled(t)
	list := lead.lists()[0].RecordID.String()
	path := ".import?table=picklist&list=" + list
	csv := "rank,team,note\n1,40103,now first\n2,40109,\n"
	var r report
	lead.send("POST", path+"&preview=1", csv, "Content-Type", csvType).want(200, &r)
	if r.Added+r.Changed != 4 { // two rows, and two that go
		t.Errorf("preview %+v", r)
	}
	lead.send("POST", path, csv, "Content-Type", csvType).want(200)
	got := strings.ReplaceAll(string(lead.get(".export?table=picklist&list="+list).want(200).body), "\r", "")
	if want := "rank,team,tier,never,reason,note\n1,40103,,0,,now first\n2,40109,,0,,\n"; got != want {
		t.Errorf("the list is now\n%swant\n%s", got, want)
	}
	// Entries that were taken off are still there, with their history.
	var all struct{ Records []recordView }
	lead.get(".records?kind=entry").want(200, &all)
	if len(all.Records) != 4 {
		t.Errorf("%d entries are kept, want 4", len(all.Records))
	}
}

// TestHostileText puts SQL, HTML and what a spreadsheet would run into every
// text field, and wants it back as it was.
func TestHostileText(t *testing.T) {
	t.Parallel()
	for _, text := range []string{
		`'; drop table revision; --`, `" or 1=1 --`, `<script>alert(1)</script>`, `<img src=x onerror=alert(1)>`,
		`=1+1`, `+1`, `-1`, `@x`, `%s%n{{.}}${x}`, `\u0000 \x00`, "\u202egnirts", "a,b;c d", "'=1",
	} {
		t.Run(text, func(t *testing.T) {
			t.Parallel()
			f := newFixture(t)
			lead := f.lead()
			lead.send("PATCH", ".", map[string]string{"name": text}).want(200)
			lead.send("PUT", ".teams", map[string]any{"teams": []any{map[string]string{"team": "40101", "name": text, "pit": text}}}).want(200)
			lead.send("POST", ".codes", map[string]any{"role": "scout", "hours": 1, "label": text}).want(201)
			scout := lead
			nickname := leadName
			if record.CheckScout(text) == nil {
				nickname = text
				scout = lead.join("scout", text)
			}
			o := scout.observation("Q1", "40101", nickname, 1)
			o.Body = mustJSON(t, map[string]any{"match": "Q1", "team": "40101", "scout": nickname, "note": text, "answers": map[string]any{}})
			list := uuid.Must(uuid.NewV7())
			rev := func(id uuid.UUID, kind string, body map[string]any) sentRevision {
				return sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Kind: kind, Lamport: 1, MadeAt: f.now.now(), Body: mustJSON(t, body)}
			}
			got := []pushed{scout.push(o), lead.push(
				rev(list, "list", map[string]any{"name": text, "purpose": text}),
				rev(record.EntryID(list, "40101"), "entry", map[string]any{"list": list, "team": "40101", "key": "a0", "reason": text, "note": text}),
				rev(uuid.Must(uuid.NewV7()), "note", map[string]any{"text": text}),
				rev(uuid.Must(uuid.NewV7()), "mark", map[string]any{"team": "40101", "match": "Q1", "kind": "changed", "note": text}),
			)}
			if words(got[0])+" "+words(got[1]) != "stored stored stored stored stored" {
				t.Fatalf("%+v", got)
			}
			encoded := string(mustJSON(t, text))
			plain := strings.NewReplacer(`\u003c`, "<", `\u003e`, ">", `\u0026`, "&").Replace(encoded)
			for path, times := range map[string]int{".": 1, ".teams": 2, ".codes": 1, ".records": 6} {
				body := string(lead.get(path).want(200).body)
				if n := strings.Count(body, encoded) + strings.Count(body, plain)*btoi(encoded != plain); n < times {
					t.Errorf("%s has the text %d times, want %d: %s", path, n, times, body)
				}
			}
			// As CSV and back.
			for _, table := range []string{"teams", "observations", "marks"} {
				csv := lead.get(".export?table=" + table).want(200).body
				for _, cell := range strings.FieldsFunc(string(csv), func(r rune) bool { return strings.ContainsRune(",\r\n\"", r) }) {
					if strings.ContainsAny(cell[:1], "=+@") {
						t.Errorf("%s has a cell that a spreadsheet runs: %q", table, cell)
					}
				}
				var r report
				lead.send("POST", ".import?table="+table, csv, "Content-Type", csvType).want(200, &r)
				if r.Added+r.Changed+r.Removed != 0 {
					t.Errorf("%s comes back changed: %+v\n%s", table, r, csv)
				}
			}
			lead.get(".records?kind=note").want(200, &json.RawMessage{})
		})
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}
