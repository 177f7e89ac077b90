package api

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestTeams(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	var r report
	lead.send("PUT", ".teams?preview=1", teamsCSV(), "Content-Type", csvType).want(200, &r)
	if diff := cmp.Diff(report{Rows: 12, Added: 12, Problems: []problemItem{}}, r); diff != "" {
		t.Errorf("preview: %s", diff)
	}
	var list teamList
	empty := lead.get(".teams").want(200, &list)
	if len(list.Teams) != 0 || !strings.Contains(string(empty.body), "[]") {
		t.Fatalf("a preview has written %s", empty.body)
	}
	lead.send("PUT", ".teams", teamsCSV(), "Content-Type", csvType, "If-Match", empty.header.Get("ETag")).want(200)
	full := lead.get(".teams").want(200, &list)
	if len(list.Teams) != 12 || list.Teams[0].Name != "Team A" || list.Teams[0].Pit != "1" {
		t.Errorf("teams %s", full.body)
	}
	lead.get(".teams", "If-None-Match", full.header.Get("ETag")).want(304)
	lead.send("PUT", ".teams", teamsCSV(), "Content-Type", csvType, "If-Match", empty.header.Get("ETag")).problem(stale)
	lead.send("PUT", ".teams", list).want(200, &r)
	if r.Added+r.Changed+r.Removed != 0 {
		t.Errorf("the same list as JSON changes %+v", r)
	}

	lead.send("PUT", ".teams", `{"teams": [{"team": "40101", "name": "A"}, {"team": "x1", "name": "B"}]}`).problem(invalid, "/teams/1")
	lead.send("PUT", ".teams", `{"teams": [{"team": "40101", "name": 5}]}`).problem(invalid, "name")
	lead.send("PUT", ".teams", `{"teams": [{"team": "40101", "wings": "B"}]}`).problem(invalid, "wings")
	lead.send("PUT", ".teams", `{"teams": [`).problem(malformed, "not JSON")
}

func TestTeamsInTheScheduleStay(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	without := strings.Replace(teamsCSV(), "40101,Team A,1\n", "", 1)
	lead.send("PUT", ".teams", without, "Content-Type", csvType).problem(invalid, "40101", "plays in Q1")
	var r report
	lead.send("PUT", ".teams?preview=1", without, "Content-Type", csvType).want(200, &r)
	if len(r.Problems) != 1 || !strings.Contains(r.Problems[0].Message, "40101") {
		t.Errorf("problems of the preview: %+v", r.Problems)
	}
}

func TestMatches(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	lead.send("PUT", ".teams", teamsCSV(), "Content-Type", csvType).want(200)
	lead.send("PUT", ".matches", matchesCSV(6, 2), "Content-Type", csvType).want(200)
	var list matchList
	a := lead.get(".matches").want(200, &list)
	tag := a.header.Get("ETag")
	if len(list.Matches) != 6 || !list.Matches[1].Played() || list.Matches[2].Played() {
		t.Errorf("matches %s", a.body)
	}
	var r report
	lead.send("PUT", ".matches", list, "If-Match", tag).want(200, &r)
	if r.Rows != 12 || r.Added+r.Changed+r.Removed != 0 {
		t.Errorf("the same schedule as JSON: %+v", r)
	}
	lead.send("PUT", ".matches", `{"matches": [{"match": "Q1", "play": 1, "red": {"teams": ["40101", "40102", "40103"]}, "blue": {"teams": ["40104", "40101", "40106"]}}]}`).problem(invalid, "/matches/0", "40101")
	lead.send("PUT", ".matches", `{"matches": [{"match": "Q1", "play": 1, "red": {"teams": ["40101", "40102", "40103"]}, "blue": {"teams": ["40104", "49999", "40106"]}}]}`).problem(invalid, "/matches", "49999")
	lead.send("PUT", ".matches", `{"matches": [{"match": "Q1", "red": {"teams": ["40101", "40102", "40103"], "result": {"score": 1e400}}, "blue": {"teams": []}}]}`).problem(malformed, "score")
	lead.send("PUT", ".matches", `{"matches": [{"match": "Z1"}]}`).problem(invalid, "Z1")
	// A new result moves the tag, the schedule's version stays.
	lead.send("PUT", ".matches", matchesCSV(6, 3), "Content-Type", csvType, "If-Match", tag).want(200, &r)
	if r.Changed+r.Added == 0 {
		t.Errorf("one more result changes nothing: %+v", r)
	}
	lead.get(".matches", "If-None-Match", tag).want(200, &list)
	if !list.Matches[2].Played() {
		t.Error("the third match is not played")
	}
	// A schedule without the result takes none away.
	lead.send("PUT", ".matches", matchesCSV(6, 0), "Content-Type", csvType).want(200, &r)
	if lead.get(".matches").want(200, &list); !list.Matches[2].Played() {
		t.Error("an empty score took a result away")
	}
}

// TestBadTables has the bad input that a lead may bring, with what it is told.
func TestBadTables(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 0)
	const head = "match,alliance,teams,score\n"
	const blue = "Q1,blue,40104 40105 40106,\n"
	huge := "match,alliance,teams\n" + strings.Repeat(strings.Repeat("x", 98)+"\n", 100_100)
	tests := []struct {
		name, table, csv string
		kind             *kind
		line             int
		column, message  string
	}{
		{"NotCSV", "teams", "team,name\n40101,\"never ends\n", invalid, 2, "", ""},
		{"WrongColumn", "teams", "team,name,colour\n40101,A,red\n", invalid, 1, "colour", "colour"},
		{"MissingColumn", "teams", "name\nA\n", invalid, 1, "", "team"},
		{"NoTeamNumber", "teams", "team,name\n0401,A\n", invalid, 2, "team", "0401"},
		{"TeamTwice", "teams", "team,name\n40101,A\n40101,B\n", invalid, 3, "team", "40101"},
		{"NotUTF8", "teams", "team,name\n40101,\xff\xfe\n", invalid, 2, "", "UTF-8"},
		{"Empty", "teams", "", malformed, 0, "", ""},
		{"UnknownTeam", "matches", head + "Q1,red,40101 40102 49999,\n" + blue, invalid, 2, "teams", "49999"},
		{"RobotTwice", "matches", head + "Q1,red,40101 40102 40104,\n" + blue, invalid, 3, "teams", "40104"},
		{"ScoreWithoutTeams", "matches", head + "Q1,red,,96\n" + blue, invalid, 2, "teams", ""},
		{"ScoreNoNumber", "matches", head + "Q1,red,40101 40102 40103,NaN\n" + blue, invalid, 2, "score", "NaN"},
		{"ScoreInfinite", "matches", head + "Q1,red,40101 40102 40103,1e999\n" + blue, invalid, 2, "score", ""},
		{"OneAlliance", "matches", head + "Q1,red,40101 40102 40103,\n", invalid, 2, "", "blue"},
		{"NoMatch", "matches", head + "X1,red,40101 40102 40103,\n", invalid, 2, "match", "X1"},
		{"HugeTable", "matches", huge, invalid, 0, "", ""},
		{"WrongObservation", "observations", "match,team,scout,deck\nQ1,40101,s01,-1\n", invalid, 2, "deck", ""},
		{"FractionalCount", "observations", "match,team,scout,deck\nQ1,40101,s01,1.5\n", invalid, 2, "deck", ""},
		{"UnknownTeamWatched", "observations", "match,team,scout,deck\nQ1,49999,s01,1\n", invalid, 2, "team", "49999"},
		{"SameRowTwice", "observations", "match,team,scout,deck\nQ1,40101,s01,1\nQ1,40101,s01,2\n", invalid, 3, "", ""},
		{"UnknownMark", "marks", "team,match,kind,note\n40101,Q1,exploded,\n", invalid, 2, "kind", "exploded"},
		{"RankTwice", "picklist", "rank,team\n1,40101\n1,40102\n", invalid, 3, "rank", ""},
		{"UnknownPick", "picklist", "rank,team\n1,49999\n", invalid, 0, "team", "49999"},
	}
	before := lead.get(".export?form=csv").want(200).body
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			path := ".import?table=" + tt.table + "&name=input.csv"
			p := lead.send("POST", path, tt.csv, "Content-Type", csvType).problem(tt.kind, tt.message)
			if tt.kind == malformed {
				return
			}
			if len(p.Errors) == 0 {
				t.Fatalf("no place is named: %+v", p)
			}
			got := p.Errors[0]
			if got.Message == "" || got.File != "input.csv" || tt.line != 0 && got.Line != tt.line || tt.column != "" && got.Column != tt.column {
				t.Errorf("problem %+v, want line %d, column %q", got, tt.line, tt.column)
			}
			var r report
			lead.send("POST", path+"&preview=1", tt.csv, "Content-Type", csvType).want(200, &r)
			if diff := cmp.Diff(p.Errors, r.Problems); diff != "" {
				t.Errorf("the preview tells something else: %s", diff)
			}
		})
	}
	if after := lead.get(".export?form=csv").want(200).body; !bytes.Equal(before, after) {
		t.Error("refused tables have changed the event")
	}
	lead.send("POST", ".import", "x", "Content-Type", csvType).problem(invalid, `"parameter":"table"`)
	lead.send("POST", ".import?table=teams", "{}", "Content-Type", mediaJSON).problem(wrongMedia)
}

// TestNothingIsHalfImported has one bad row among many.
func TestNothingIsHalfImported(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(6, 0)
	var b strings.Builder
	b.WriteString("match,team,scout,deck\n")
	for i := range 30 {
		fmt.Fprintf(&b, "Q%d,%s,s01,%d\n", i%6+1, teamNo(i/6), i)
	}
	b.WriteString("Q1,40105,s01,many\n")
	lead.send("POST", ".import?table=observations", b.String(), "Content-Type", csvType).problem(invalid, `"line":32`, "many")
	var list struct{ Records []recordView }
	lead.get(".records?kind=observation").want(200, &list)
	if len(list.Records) != 0 {
		t.Errorf("%d records of a refused file are there", len(list.Records))
	}
}
