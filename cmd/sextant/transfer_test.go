package main

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/contrib"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

// shore is a database with two empty events, and the commands on it.
type shore struct {
	t    *testing.T
	url  string
	db   *store.DB
	a, b uuid.UUID
}

func newShore(t *testing.T) *shore {
	t.Helper()
	s := &shore{t: t, url: storetest.URL(t)}
	s.db = storetest.Open(t, s.url, store.Options{})
	for _, id := range []*uuid.UUID{&s.a, &s.b} {
		ev, _ := storetest.Event(t, s.db, func(n *store.NewEvent) {
			n.Zone, n.GameBody = "America/New_York", json.RawMessage(generate.Slackwater()) // the zone that simulate writes
		})
		*id = ev.ID
	}
	return s
}

// run is the real program; it must end with want.
func (s *shore) run(stdin string, want int, args ...string) (stdout, stderr string) {
	s.t.Helper()
	var out, errs bytes.Buffer
	cmd := program(s.t, []string{"DATABASE_URL=" + s.url}, args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(stdin), &out, &errs
	err := cmd.Run()
	if got := cmd.ProcessState.ExitCode(); got != want {
		s.t.Errorf("sextant %q ends with %d, want %d (%v): %s", args, got, want, err, errs.String())
	}
	return out.String(), errs.String()
}

// estimate is what the event's records say of its robots.
func (s *shore) estimate(event uuid.UUID) record.Estimate {
	s.t.Helper()
	ev, _, err := s.db.Load(s.t.Context(), event)
	if err != nil {
		s.t.Fatal(err)
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		s.t.Fatal(err)
	}
	return fit.Record()
}

// listPrinted is the id that an import of a pick list prints.
var listPrinted = regexp.MustCompile(`the list is ([0-9a-f-]{36})`)

// TestTablesThere takes an event through CSV files into a second one: what is
// written of it is then the same to the byte, and so are the estimates.
func TestTablesThere(t *testing.T) {
	t.Parallel()
	s := newShore(t)
	files := simulate(t, "--seed", "11", "--teams", "24", "--matches-per-team", "6", "--runs", "2")
	files["picklist.csv"] = "rank,team,tier,never,reason,note\r\n"
	for i, row := range strings.Split(strings.TrimSpace(files["teams.csv"]), "\n")[1:4] {
		team, _, _ := strings.Cut(row, ",")
		files["picklist.csv"] += fmt.Sprintf("%d,%s,%d,0,,\"fast, and calm\"\r\n", i+1, team, i+1)
	}
	dir := t.TempDir()
	tables := []string{"teams", "matches", "observations", "marks", "picklist"}
	for _, name := range tables {
		if err := os.WriteFile(filepath.Join(dir, name+".csv"), []byte(files[name+".csv"]), 0o600); err != nil {
			t.Fatal(err)
		}
	}

	through := func(event uuid.UUID, from, to string) (list string) {
		t.Helper()
		for _, name := range tables {
			args := []string{"import", "--table", name, filepath.Join(dir, from+name+".csv"), "--into", event.String()}
			before, _ := s.run("", exitDone, "export", event.String())
			s.run("", exitDone, append(args, "--preview")...)
			if after, _ := s.run("", exitDone, "export", event.String()); lines(after) != lines(before) {
				t.Errorf("a preview of %s wrote something", name)
			}
			out, _ := s.run("", exitDone, args...)
			export := []string{"export", event.String(), "--form", "csv", "--table", name, "-o", filepath.Join(dir, to+name+".csv")}
			if name == "picklist" {
				m := listPrinted.FindStringSubmatch(out)
				if m == nil {
					t.Fatalf("the import of a pick list does not name it: %q", out)
				}
				list = m[1]
				export = append(export, "--list", list)
			}
			s.run("", exitDone, export...)
			if name == "picklist" { // again would be a second list
				continue
			}
			if out, _ := s.run("", exitDone, args...); !strings.Contains(out, " 0 new, 0 changed, 0 removed") {
				t.Errorf("the same file again changes something: %s", out)
			}
		}
		return list
	}
	list := through(s.a, "", "a-")
	through(s.b, "a-", "b-")
	for _, name := range tables {
		want := files[name+".csv"]
		for _, event := range []string{"a-", "b-"} {
			got, err := os.ReadFile(filepath.Join(dir, event+name+".csv"))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, string(got)); diff != "" {
				t.Errorf("%s%s.csv is not the file that was imported (-want +got):\n%s", event, name, diff)
			}
		}
	}
	one := s.estimate(s.a)
	if one.Fit.Records == 0 || len(one.Teams) != 24 {
		t.Fatalf("the estimates know %d records and %d teams", one.Fit.Records, len(one.Teams))
	}
	if diff := cmp.Diff(one, s.estimate(s.b)); diff != "" {
		t.Errorf("the estimates differ (-first +second):\n%s", diff)
	}

	packed, _ := s.run("", exitDone, "export", s.a.String(), "--form", "csv")
	z, err := zip.NewReader(strings.NewReader(packed), int64(len(packed)))
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, f := range z.File {
		found[f.Name] = true
	}
	for _, name := range []string{"game.json", "event.json", "teams.csv", "matches.csv", "observations.csv", "marks.csv", "picklist-picklist-" + list + ".csv"} {
		if !found[name] {
			t.Errorf("the zip file has no %s: %v", name, found)
		}
	}
}

// TestPartsThere: matches that scouts handed to each other come out as rows of
// the whole, so that the estimates of the files are those of the server; taken
// in again they change nothing.
func TestPartsThere(t *testing.T) {
	t.Parallel()
	s := newShore(t)
	files := simulate(t, "--seed", "12", "--teams", "24", "--matches-per-team", "6", "--runs", "2")
	dir := t.TempDir()
	path := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"teams", "matches", "observations"} {
		if err := os.WriteFile(path(name+".csv"), []byte(files[name+".csv"]), 0o600); err != nil {
			t.Fatal(err)
		}
		s.run("", exitDone, "import", "--table", name, path(name+".csv"), "--into", s.a.String())
	}
	ev, _, err := s.db.Load(t.Context(), s.a)
	if err != nil {
		t.Fatal(err)
	}
	ms := func(v int) *int { return &v }
	by := map[string]store.Member{}
	for _, nickname := range []string{"ann", "bo", "cy"} {
		by[nickname] = storetest.Scout(t, s.db, s.a, nickname)
	}
	for i := range 12 {
		o := ev.Observations[5*i]
		if o.Absent {
			continue
		}
		parts := []record.Observation{{Scout: "ann", To: ms(70_000)}, {Scout: "bo", From: ms(72_000)}}
		if i%3 == 2 {
			parts = []record.Observation{{Scout: "cy", To: ms(70_000)}}
		}
		for _, p := range parts {
			p.Match, p.Play, p.Team, p.Counts, p.Choices, p.Answers = o.Match, o.Play, o.Team, o.Counts, o.Choices, o.Answers
			storetest.Append(t, s.db, s.a, storetest.Observed(s.a, by[p.Scout], p))
		}
	}

	if err := os.WriteFile(path("game.json"), generate.Slackwater(), 0o600); err != nil {
		t.Fatal(err)
	}
	s.run("", exitDone, "export", s.a.String(), "--form", "csv", "--table", "observations", "-o", path("out.csv"))
	out, err := os.ReadFile(path("out.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if text := string(out); !strings.Contains(text, ",ann,") || strings.Contains(text, ",bo,") || !strings.Contains(text, ",cy,,") {
		t.Error("parts that were handed on are not one row, or a part alone has counts")
	}
	printed, _ := s.run("", exitDone, "estimate", "--game", path("game.json"), "--matches", path("matches.csv"), "--observations", path("out.csv"), "--format", "json")
	var got record.Estimate
	if err := json.Unmarshal([]byte(printed), &got); err != nil {
		t.Fatal(err)
	}
	want := s.estimate(s.a)
	if len(got.Teams) != 24 || len(want.Teams) != 24 {
		t.Fatalf("%d and %d teams", len(got.Teams), len(want.Teams))
	}
	for i, w := range want.Teams {
		if g := got.Teams[i]; g.Team != w.Team || math.Abs(g.Points-w.Points) > 1e-6 || math.Abs(g.SD-w.SD) > 1e-6 || math.Abs(g.Now-w.Now) > 1e-6 {
			t.Errorf("%s has %.6f ± %.6f by the files, and %.6f ± %.6f on the server", w.Team, g.Points, g.SD, w.Points, w.SD)
		}
	}
	again, _ := s.run("", exitDone, "import", "--table", "observations", path("out.csv"), "--into", s.a.String())
	if !strings.Contains(again, " 0 new, 0 changed, 0 removed") {
		t.Errorf("the same file again changes something: %s", again)
	}
}

// lines leaves the first line of an archive, which tells when it was written.
func lines(archive string) string {
	_, rest, _ := strings.Cut(archive, "\n")
	return rest
}

// TestTablesRefuse has one line that says what is wrong and where; nothing is
// written.
func TestTablesRefuse(t *testing.T) {
	t.Parallel()
	s := newShore(t)
	a := s.a.String()
	s.run(e2eTeams, exitDone, "import", "--table", "teams", "-", "--into", a)
	s.run(e2eHead+e2eQ1, exitDone, "import", "--table", "matches", "-", "--into", a)
	s.run("rank,team\n1,40201\n", exitDone, "import", "--table", "picklist", "-", "--into", a)
	before, _ := s.run("", exitDone, "export", a)
	tests := []struct {
		name, stdin string
		args        []string
		says        string
	}{
		{"Cell", "match,team,scout,deck\nQ1,40201,s01,-4\n", []string{"import", "--table", "observations", "-", "--into", a}, "-:2: column deck:"},
		{"Team", "match,team,scout\nQ1,40201,s01\nQ1,40299,s01\n", []string{"import", "--table", "observations", "-", "--into", a}, "-:3: column team: team 40299 is not in the event's team list"},
		{"Match", e2eHead + strings.Replace(e2eQ1, ",40,", ",forty,", 1), []string{"import", "--table", "matches", "-", "--into", a}, "-:3: column score:"},
		{"Pick", "rank,team\n1,40201\n2,40299\n", []string{"import", "--table", "picklist", "-", "--into", a}, "-:3: column team: team 40299"},
		{"TeamPlays", "team,name\n40201,One\n", []string{"import", "--table", "teams", "-", "--into", a}, "-: team 40202 is missing from the list but plays in Q1"},
		{"NoSchedule", "match,team,scout\nQ1,40201,s01\n", []string{"import", "--table", "observations", "-", "--into", s.b.String()}, "the event's schedule: no team stands there"},
		{"NoInto", "", []string{"import", "--table", "teams", "-"}, "--into"},
		{"Account", "", []string{"import", "--table", "teams", "-", "--into", a, "--account", "ada"}, "--account"},
		{"NoEvent", e2eTeams, []string{"import", "--table", "teams", "-", "--into", uuid.NewString()}, "there is no event"},
		{"OtherTable", "", []string{"import", "--table", "robots", "-", "--into", a}, "--table"},
		{"NoFile", "", []string{"import", "--table", "teams", "none.csv", "--into", a}, "none.csv"},
		{"NoSuchList", "rank,team\n1,40201\n", []string{"import", "--table", "picklist", "-", "--into", a, "--list", uuid.NewString()}, `("picklist")`},
		{"ListOfTeams", "", []string{"import", "--table", "teams", "-", "--into", a, "--list", uuid.NewString()}, "--list"},
		{"ExportForm", "", []string{"export", a, "--table", "teams"}, "--form csv"},
		{"ExportWhichList", "", []string{"export", a, "--form", "csv", "--table", "picklist"}, `("picklist")`},
		{"ExportNoList", "", []string{"export", s.b.String(), "--form", "csv", "--table", "picklist"}, "has no pick list"},
		{"ExportNoEvent", "", []string{"export", uuid.NewString(), "--form", "csv", "--table", "marks"}, "there is no event"},
	}
	for _, tt := range tests {
		_, errs := s.run(tt.stdin, exitUsage, tt.args...)
		if !strings.Contains(errs, tt.says) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: says %q, want one line with %q", tt.name, errs, tt.says)
		}
	}
	if after, _ := s.run("", exitDone, "export", a); lines(after) != lines(before) {
		t.Error("a file that was refused changed the event")
	}
}
