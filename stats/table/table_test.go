package table_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/table"
)

// load reads a game of testdata/games.
func load(t testing.TB, name string) *game.Game {
	t.Helper()
	g, err := game.Load(name, file(t, "games", name))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// file reads a file of testdata.
func file(t testing.TB, path ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{"..", "..", "testdata"}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// form is one of the CSV forms: reading and writing.
type form struct {
	name  string
	read  func(r io.Reader) (any, error)
	write func(w io.Writer, v any) error
}

func forms(g *game.Game) []form {
	return []form{
		{"teams.csv",
			func(r io.Reader) (any, error) { return table.ReadTeams("teams.csv", r) },
			func(w io.Writer, v any) error { return table.WriteTeams(w, v.([]record.Team)) }},
		{"matches.csv",
			func(r io.Reader) (any, error) { return table.ReadMatches("matches.csv", r, g) },
			func(w io.Writer, v any) error { return table.WriteMatches(w, g, v.([]record.Match)) }},
		{"observations.csv",
			func(r io.Reader) (any, error) { return table.ReadObservations("observations.csv", r, g) },
			func(w io.Writer, v any) error { return table.WriteObservations(w, g, v.([]record.Observation)) }},
		{"marks.csv",
			func(r io.Reader) (any, error) { return table.ReadMarks("marks.csv", r) },
			func(w io.Writer, v any) error { return table.WriteMarks(w, v.([]record.Mark)) }},
		{"picklist.csv",
			func(r io.Reader) (any, error) { return table.ReadPickList("picklist.csv", r) },
			func(w io.Writer, v any) error { return table.WritePickList(w, v.([]table.Pick)) }},
		{"ranking.csv",
			func(r io.Reader) (any, error) { return table.ReadRanking("ranking.csv", r) },
			func(w io.Writer, v any) error { return table.WriteRanking(w, v.([]record.TeamID)) }},
	}
}

// TestRoundTrip: what the program wrote comes out the same to the byte.
func TestRoundTrip(t *testing.T) {
	t.Parallel()
	for _, f := range forms(load(t, "millrace.json")) {
		t.Run(f.name, func(t *testing.T) {
			t.Parallel()
			want := file(t, "events", "millrace", f.name)
			v, err := f.read(bytes.NewReader(want))
			if err != nil {
				t.Fatal(err)
			}
			var got bytes.Buffer
			if err := f.write(&got, v); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(string(want), got.String()); diff != "" {
				t.Errorf("written (-read +written):\n%s", diff)
			}
			// Rows in any order, LF ends and a byte order mark make no difference.
			// A row of a cell with line breaks is more than one line: leave such files in order.
			lines := strings.Split(strings.TrimSuffix(strings.ReplaceAll(string(want), "\r\n", "\n"), "\n"), "\n")
			if !slices.ContainsFunc(lines, func(l string) bool { return strings.Count(l, `"`)%2 == 1 }) {
				slices.Reverse(lines[1:])
			}
			other, err := f.read(strings.NewReader("\ufeff" + strings.Join(lines, "\n") + "\n\n"))
			if err != nil {
				t.Fatal(err)
			}
			got.Reset()
			if err := f.write(&got, other); err != nil {
				t.Fatal(err)
			}
			if got.String() != string(want) {
				t.Errorf("other order and line ends give\n%s", got.String())
			}
		})
	}
}

// TestContractRows reads the sample rows of the forms.
func TestContractRows(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	matches, err := table.ReadMatches("matches.csv", strings.NewReader(
		`match,starts_at,alliance,teams,surrogates,score,from_fouls,autonomous,finish,barrels,ranking_points
Q2,2031-03-06T09:08:00-05:00,red,40105 40111 40148,,,,,,,
Q2,2031-03-06T09:08:00-05:00,blue,40106 40112 40147,,,,,,,
Q1,2031-03-06T09:00:00-05:00,red,40117 40123 40102,,96,4,21,14,17,3
Q1,,blue,40131 40109 40140, 40140  40109,71,0,18,4,12,0
`), g)
	if err != nil {
		t.Fatal(err)
	}
	zone := time.FixedZone("", -5*3600)
	want := []record.Match{
		{
			ID: record.MatchID{Stage: record.Qualification, Number: 1}, Play: 1, StartsAt: time.Date(2031, 3, 6, 9, 0, 0, 0, zone),
			Red: record.Alliance{Teams: []record.TeamID{"40117", "40123", "40102"}, Result: &record.Result{
				Score: 96, FromFouls: new(4.0), Components: map[string]float64{"autonomous": 21, "finish": 14, "barrels": 17}, RankingPoints: new(3.0),
			}},
			Blue: record.Alliance{Teams: []record.TeamID{"40131", "40109", "40140"}, Surrogates: []record.TeamID{"40109", "40140"}, Result: &record.Result{
				Score: 71, FromFouls: new(0.0), Components: map[string]float64{"autonomous": 18, "finish": 4, "barrels": 12}, RankingPoints: new(0.0),
			}},
		},
		{
			ID: record.MatchID{Stage: record.Qualification, Number: 2}, Play: 1, StartsAt: time.Date(2031, 3, 6, 9, 8, 0, 0, zone),
			Red:  record.Alliance{Teams: []record.TeamID{"40105", "40111", "40148"}},
			Blue: record.Alliance{Teams: []record.TeamID{"40106", "40112", "40147"}},
		},
	}
	if diff := cmp.Diff(want, matches); diff != "" {
		t.Errorf("ReadMatches (-want +got):\n%s", diff)
	}

	const head = "match,team,scout,cast_off,auto_deck,auto_deck_missed,deck,deck_missed,hold,hold_missed,pennant,mooring,minor,major,start,stopped,absent,note\n"
	observations, err := table.ReadObservations("observations.csv", strings.NewReader(head+
		"Q1,40117,s03,1,2,0,5,1,3,0,1,lifted,0,0,left,0,0,\n"+
		"Q1,40123,s04,,,,,1,,,0,,,,,,,\"half, only\"\n"+
		"Q1,40102,s05,,,,,,,,,,,,,,1,\n"), g)
	if err != nil {
		t.Fatal(err)
	}
	q1 := record.MatchID{Stage: record.Qualification, Number: 1}
	wantObservations := []record.Observation{
		{Match: q1, Play: 1, Team: "40102", Scout: "s05", Absent: true},
		{
			Match: q1, Play: 1, Team: "40117", Scout: "s03",
			Counts: map[string]record.Tally{
				"cast_off": {Made: new(1.0)}, "auto_deck": {Made: new(2.0), Missed: new(0.0)}, "deck": {Made: new(5.0), Missed: new(1.0)},
				"hold": {Made: new(3.0), Missed: new(0.0)}, "pennant": {Made: new(1.0)},
			},
			Choices: map[string]record.Chosen{"mooring": {Option: "lifted"}},
			Fouls:   map[string]float64{"minor": 0, "major": 0},
			Answers: map[string]game.Answer{"start": {Text: new("left")}, "stopped": {Number: new(0.0)}},
		},
		// Not watched is not zero: only the misses of deck and the pennants were.
		{
			Match: q1, Play: 1, Team: "40123", Scout: "s04", Note: "half, only",
			Counts: map[string]record.Tally{"deck": {Missed: new(1.0)}, "pennant": {Made: new(0.0)}},
		},
	}
	if diff := cmp.Diff(wantObservations, observations); diff != "" {
		t.Errorf("ReadObservations (-want +got):\n%s", diff)
	}
}

// TestEventFollowsFromRecords: the official scores of the event, which were
// computed apart from the program, are what scoring gives for the scouts' rows.
func TestEventFollowsFromRecords(t *testing.T) {
	t.Parallel()
	g := load(t, "millrace.json")
	open := func(name string) *table.File {
		return &table.File{Name: name, R: bytes.NewReader(file(t, "events", "millrace", name))}
	}
	ev, err := table.Load(g, table.Files{
		Teams: open("teams.csv"), Matches: open("matches.csv"), Observations: open("observations.csv"), Marks: open("marks.csv"),
	})
	if err != nil {
		t.Fatal(err)
	}
	again, err := table.Event(g, ev.Teams, ev.Matches, ev.Observations, ev.Marks)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(ev, again) {
		t.Errorf("Event (-Load +Event):\n%s", cmp.Diff(ev, again))
	}
	if len(ev.Teams) != 8 || len(ev.Matches) != 14 || len(ev.Observations) != 47 || len(ev.Marks) != 2 {
		t.Errorf("%d teams, %d matches, %d observations, %d marks", len(ev.Teams), len(ev.Matches), len(ev.Observations), len(ev.Marks))
	}
	checked := 0
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if !m.Played() {
			continue
		}
		var played [2]game.Played
		complete := true
		for side, c := range []record.Colour{record.Red, record.Blue} {
			var seen []*record.Observation
			for _, team := range m.Side(c).Teams {
				j := slices.IndexFunc(ev.Observations, func(o record.Observation) bool {
					return o.Match == m.ID && o.Play == m.Play && o.Team == team
				})
				seen = append(seen, &ev.Observations[j])
			}
			var unseen [][]string
			played[side], unseen = record.PlayedFrom(g, seen)
			for _, ids := range unseen {
				complete = complete && len(ids) == 0
			}
		}
		if !complete {
			continue
		}
		checked++
		red, blue := g.Score(played[0], played[1])
		for side, s := range []game.Scored{red, blue} {
			r := m.Side([]record.Colour{record.Red, record.Blue}[side]).Result
			got := record.Result{Score: s.Points, FromFouls: &s.FromFouls, Components: s.Components, RankingPoints: &s.Ranking, Robots: r.Robots}
			if diff := cmp.Diff(*r, got); diff != "" {
				t.Errorf("%s play %d (-official +scored):\n%s", m.ID, m.Play, diff)
			}
		}
	}
	if checked < 6 {
		t.Errorf("only %d matches were watched whole", checked)
	}
}

func TestReadRefuses(t *testing.T) {
	t.Parallel()
	const (
		obs     = "match,team,scout,deck,deck_missed,cast_off,mooring,minor,start,stopped,absent,note\n"
		matches = "match,alliance,teams,score,autonomous\n"
		pair    = "Q1,red,1 2 3,,\nQ1,blue,4 5 6,,\n"
	)
	slackwater, stonefield := load(t, "slackwater.json"), load(t, "stonefield.json")
	tests := []struct {
		name, form, text string
		want             string // the first error
	}{
		{"UnknownColumn", "observations.csv", "match,team,scout,dek\n", "observations.csv:1: column dek: no such column in this form or this game; correct its spelling or take the column out"},
		{"PitColumn", "observations.csv", "match,team,scout,drive\n", "observations.csv:1: column drive: no such column"},
		{"MissesOfOther", "observations.csv", "match,team,scout,pennant_missed\n", "observations.csv:1: column pennant_missed: no such column"},
		{"NeededColumn", "observations.csv", "match,team\nQ1,1\n", "observations.csv:1: column scout: the column is missing; add it"},
		{"Match", "observations.csv", obs + "Q0,1,s,,,,,,,,,\n", `observations.csv:2: column match: "Q0" is not a match`},
		{"MatchMissing", "observations.csv", obs + ",1,s,,,,,,,,,\n", "observations.csv:2: column match: the match is missing"},
		{"Team", "observations.csv", obs + "Q1,012,s,,,,,,,,,\n", `observations.csv:2: column team: "012" is not a team`},
		{"Scout", "observations.csv", obs + "Q1,1,,,,,,,,,,\n", "observations.csv:2: column scout: the nickname is missing"},
		{"NaN", "observations.csv", obs + "Q1,1,s,NaN,,,,,,,,\n", `observations.csv:2: column deck: "NaN" is not a number`},
		{"Infinity", "observations.csv", obs + "Q1,1,s,Inf,,,,,,,,\n", `observations.csv:2: column deck: "Inf" is not a number`},
		{"Exponent", "observations.csv", obs + "Q1,1,s,1e3,,,,,,,,\n", `observations.csv:2: column deck: "1e3" is not a number`},
		{"Negative", "observations.csv", obs + "Q1,1,s,-1,,,,,,,,\n", "observations.csv:2: column deck: a count is 0 or more"},
		{"Fraction", "observations.csv", obs + "Q1,1,s,1.5,,,,,,,,\n", "observations.csv:2: column deck: a count is a whole number"},
		{"TooMany", "observations.csv", obs + "Q1,1,s,1000,,,,,,,,\n", "observations.csv:2: column deck: a count is 999 at most"},
		{"Flag", "observations.csv", obs + "Q1,1,s,,,2,,,,,,\n", `observations.csv:2: column cast_off: "2" is neither 0 nor 1`},
		{"Option", "observations.csv", obs + "Q1,1,s,,,,flying,,,,,\n", `observations.csv:2: column mooring: "flying" is no option of Mooring; write one of none, moored, lifted`},
		{"Answer", "observations.csv", obs + "Q1,1,s,,,,,,up,,,\n", "observations.csv:2: column start: write one of left, middle, right"},
		{"Range", "observations.csv", obs + "Q1,1,s,,,,,,,151,,\n", "observations.csv:2: column stopped: 151 is out of range; write a number from 0 to 150"},
		{"TooCloseToZero", "observations.csv", obs + "Q1,1,s,,,,,,,0.0000000001,,\n", "observations.csv:2: column stopped: 1e-10 is too close to 0; write 0"},
		{"AbsentSaw", "observations.csv", obs + "Q1,1,s,0,,,,,,,1,\n", "observations.csv:2: column deck: the robot was absent, so this cell is empty"},
		{"SameKey", "observations.csv", obs + "Q1,1,s,,,,,,,,,\n\nQ1,1,s,,,,,,,,,\n", "observations.csv:4: line 2 has the same match, play, team and scout; keep one row"},
		{"LongNote", "observations.csv", obs + "Q1,1,s,,,,,,,,," + strings.Repeat("ü", 2001) + "\n", "observations.csv:2: column note: the text has 2001 characters; 2000 is the limit"},
		{"ControlCharacter", "observations.csv", obs + "Q1,1,s,,,,,,,,,a\x07\n", "observations.csv:2: column note: the text has the control character U+0007"},
		{"LineOfCell", "observations.csv", obs + "Q1,1,s,,,,,,,,,\"a\nb\"\nQ1,x,s,,,,,,,,,\n", "observations.csv:4: column team: "},
		{"LineOfLaterCell", "observations.csv", "match,team,scout,note,deck\nQ1,1,s,\"a\nb\",x\n", "observations.csv:3: column deck: "},
		{"Play", "observations.csv", "match,team,scout,play\nQ1,1,s,0\n", "observations.csv:2: column play: a play is a whole number from 1 to 9"},

		{"ScoreWithoutTeams", "matches.csv", matches + "Q1,red,,50,\nQ1,blue,4 5 6,40,\n", "matches.csv:2: column teams: there is a score but no teams"},
		{"RobotTwice", "matches.csv", matches + "Q1,red,1 1 3,,\nQ1,blue,4 5 6,,\n", "matches.csv:2: column teams: team 1 stands twice"},
		{"RobotInBoth", "matches.csv", matches + "Q1,red,1 2 3,,\nQ1,blue,4 5 1,,\n", "matches.csv:3: column teams: team 1 plays for both alliances of Q1"},
		{"FourTeams", "matches.csv", matches + "Q1,red,1 2 3 7,,\nQ1,blue,4 5 6,,\n", "matches.csv:2: column teams: there are 4 teams; in this game 3 robots play"},
		{"TwoTeams", "matches.csv", matches + "Q1,red,1 2,,\nQ1,blue,4 5 6,,\n", "matches.csv:2: column teams: there are 2 teams; in this game 3 robots play"},
		{"NoBlue", "matches.csv", matches + "Q1,red,1 2 3,,\n", "matches.csv:2: column alliance: Q1 has no row for blue"},
		{"RedTwice", "matches.csv", matches + pair + "Q1,red,1 2 3,,\n", "matches.csv:4: column alliance: red of Q1 stands in line 2 already"},
		{"Colour", "matches.csv", matches + "Q1,green,1 2 3,,\n", `matches.csv:2: column alliance: "green" is no alliance`},
		{"ComponentNotPlayed", "matches.csv", matches + "Q1,red,1 2 3,,5\nQ1,blue,4 5 6,,\n", "matches.csv:2: column score: the score is empty, so the match is not played, but the column autonomous is filled"},
		{"Score", "matches.csv", matches + "Q1,red,1 2 3,9x,\nQ1,blue,4 5 6,,\n", `matches.csv:2: column score: "9x" is not a number`},
		{"ScoreHuge", "matches.csv", matches + "Q1,red,1 2 3,99999999,\nQ1,blue,4 5 6,,\n", "matches.csv:2: column score: write a number from -1000000 to 1000000"},
		{"Surrogate", "matches.csv", "match,alliance,teams,surrogates\nQ1,red,1 2 3,4\nQ1,blue,4 5 6,\n", "matches.csv:2: column surrogates: team 4 does not play for this alliance"},
		{"Time", "matches.csv", "match,alliance,teams,starts_at\nQ1,red,1 2 3,2031-03-06 09:00\nQ1,blue,4 5 6,\n", `matches.csv:2: column starts_at: "2031-03-06 09:00" is not a time`},
		{"TimesDiffer", "matches.csv", "match,alliance,teams,starts_at\nQ1,red,1 2 3,2031-03-06T09:00:00Z\nQ1,blue,4 5 6,2031-03-06T09:01:00Z\n", "matches.csv:3: column starts_at: the other row of Q1 says 2031-03-06T09:00:00Z"},
		{"RobotsCount", "matches.csv", "match,alliance,teams,score,robots:mooring\nQ1,red,1 2 3,5,none none\nQ1,blue,4 5 6,5,\n", "matches.csv:2: column robots:mooring: there are 2 values for 3 teams"},
		{"RobotsOption", "matches.csv", "match,alliance,teams,score,robots:mooring\nQ1,red,1 2 3,5,none - flying\nQ1,blue,4 5 6,5,\n", `matches.csv:2: column robots:mooring: value 3: "flying" is no option; write one of none, moored, lifted`},
		{"RobotsUnknown", "matches.csv", "match,alliance,teams,robots:wind\n", "matches.csv:1: column robots:wind: no such column"},
		{"RobotsOfAlliance", "stonefield matches.csv", "match,alliance,teams,robots:lantern\n", "matches.csv:1: column robots:lantern: no such column"},

		{"TeamTwice", "teams.csv", "team,name\n1,A\n1,B\n", "teams.csv:3: column team: team 1 stands in line 2 already"},
		{"TeamName", "teams.csv", "team,name\n1,\"A\nB\"\n", "teams.csv:2: column name: a name stands on one line"},
		{"TeamForm", "teams.csv", "team,name\n123456,A\n", `teams.csv:2: column team: "123456" is not a team`},
		{"MarkKind", "marks.csv", "team,match,kind\n1,Q1,sunk\n", `marks.csv:2: column kind: "sunk" is no kind of mark; write one of changed, repaired, substitute, told_to_defend, no_change`},
		{"MarkTwice", "marks.csv", "team,match,kind\n1,Q1,changed\n1,Q1,changed\n", "marks.csv:3: line 2 says the same; keep one row"},
		{"PickTwice", "picklist.csv", "rank,team\n1,5\n2,5\n", "picklist.csv:3: column team: team 5 stands in line 2 already"},
		{"RankTwice", "picklist.csv", "rank,team\n1,5\n1,6\n", "picklist.csv:3: column rank: rank 1 stands in line 2 already"},
		{"RankZero", "picklist.csv", "rank,team\n0,5\n", "picklist.csv:2: column rank: the place is a whole number from 1"},
		{"RankGap", "ranking.csv", "rank,team\n1,5\n3,6\n", "ranking.csv: column rank: no team has rank 2"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			g := slackwater
			name := tt.form
			if rest, ok := strings.CutPrefix(tt.form, "stonefield "); ok {
				g, name = stonefield, rest
			}
			all := forms(g)
			f := all[slices.IndexFunc(all, func(f form) bool { return f.name == name })]
			_, err := f.read(strings.NewReader(tt.text))
			var errs table.Errors
			if !errors.As(err, &errs) {
				t.Fatalf("error %T %v, want Errors", err, err)
			}
			if got := errs[0].Error(); !strings.HasPrefix(got, tt.want) {
				t.Errorf("error %q\nwant  %q", got, tt.want)
			}
		})
	}
}

// TestAllErrorsAtOnce: one reading tells everything that is wrong, in order.
func TestAllErrorsAtOnce(t *testing.T) {
	t.Parallel()
	_, err := table.ReadObservations("o.csv", strings.NewReader("match,team,scout,deck,wind\nQ1,x,s,-1,\nQ,1,s,2,\nQ1,1,s,NaN,3\n"), load(t, "slackwater.json"))
	var errs table.Errors
	if !errors.As(err, &errs) {
		t.Fatal(err)
	}
	var got []string
	for _, e := range errs {
		got = append(got, fmt.Sprintf("%d %s", e.Line, e.Column))
	}
	if diff := cmp.Diff([]string{"1 wind", "2 team", "2 deck", "3 match", "4 deck"}, got); diff != "" {
		t.Errorf("errors (-want +got):\n%s", diff)
	}
}

func TestLoadRefuses(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	f := func(name, text string) *table.File { return &table.File{Name: name, R: strings.NewReader(text)} }
	const matches = "match,alliance,teams\nQ1,red,1 2 3\nQ1,blue,4 5 6\n"
	tests := []struct {
		name  string
		files table.Files
		want  string
	}{
		{"NoSchedule", table.Files{}, "matches.csv: there is no schedule; give the file of matches"},
		{"TeamNotInList", table.Files{Teams: f("teams.csv", "team,name\n1,A\n2,B\n3,C\n4,D\n5,E\n"), Matches: f("matches.csv", matches)},
			"matches.csv:3: column teams: team 6 is not in teams.csv; correct the number, or add the team there"},
		{"RecordOfNobody", table.Files{Matches: f("matches.csv", matches), Observations: f("observations.csv", "match,team,scout\nQ1,1,s\nQ1,9,s\n")},
			"observations.csv:3: column team: team 9 is not in matches.csv; correct the number, or add the team there"},
		{"MarkOfNobody", table.Files{Matches: f("matches.csv", matches), Marks: f("marks.csv", "team,match,kind\n9,Q1,changed\n")},
			"marks.csv:2: column team: team 9 is not in matches.csv; correct the number, or add the team there"},
		// A file that is wrong itself is no measure for the others: its own
		// error is the only one.
		{"BrokenSchedule", table.Files{Matches: f("matches.csv", "match,alliance,teams\nQ1,red,1 2 3\nQ1,blu,4 5 6\n"), Observations: f("observations.csv", "match,team,scout\nQ1,4,s\n"), Marks: f("marks.csv", "team,match,kind\n5,Q1,changed\n")},
			`matches.csv:2: column alliance: Q1 has no row for blue; a match needs one row for red and one for blue (and 1 more)`},
		{"BrokenTeams", table.Files{Teams: f("teams.csv", "team,name\nx,A\n"), Matches: f("matches.csv", matches)},
			`teams.csv:2: column team: "x" is not a team; write a number of up to five digits, with a capital letter for a second robot, such as 40117 or 40117B`},
		{"EmptySchedule", table.Files{Matches: f("matches.csv", "match,alliance,teams\n"), Observations: f("observations.csv", "match,team,scout\nQ1,4,s\nQ1,5,s\n"), Marks: f("marks.csv", "team,match,kind\n5,Q1,changed\n")},
			"matches.csv: no team stands there, so nothing can belong to one; give the teams first"},
		{"ErrorsOfRecordsToo", table.Files{Matches: f("matches.csv", "match,alliance\n"), Observations: f("observations.csv", "match,team,scout\nQ,4,s\n")},
			"matches.csv:1: column teams: the column is missing; add it (and 1 more)"},
		// Scouts err: a robot that is at the event but not in that match, or a
		// match that is not in the schedule, is kept.
		{"OtherMatch", table.Files{Matches: f("matches.csv", matches+"Q2,red,7 8 9\nQ2,blue,4 5 6\n"), Observations: f("observations.csv", "match,team,scout\nQ1,7,s\nQ3,1,s\n")}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			ev, err := table.Load(g, tt.files)
			if tt.want == "" {
				if err != nil || len(ev.Observations) != 2 {
					t.Errorf("Load: %d observations, %v", len(ev.Observations), err)
				}
				return
			}
			if err == nil || err.Error() != tt.want {
				t.Errorf("Load: %v\nwant  %s", err, tt.want)
			}
		})
	}
}

// TestLoadPickList refuses a team that is not at the event, at its place.
func TestLoadPickList(t *testing.T) {
	t.Parallel()
	load := func(text string) ([]table.Pick, error) {
		return table.LoadPickList("picklist.csv", strings.NewReader(text), []record.Team{{ID: "1"}, {ID: "2"}}, "the team list")
	}
	if picks, err := load("rank,team\n2,1\n1,2\n"); err != nil || len(picks) != 2 || picks[0].Team != "2" {
		t.Errorf("read %v, %v", picks, err)
	}
	want := "picklist.csv:3: column team: team 9 is not in the team list; correct the number, or add the team there"
	if _, err := load("rank,team\n1,1\n2,9\n"); err == nil || err.Error() != want {
		t.Errorf("error %v\nwant  %s", err, want)
	}
}

func TestEventRefuses(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	q := func(n int) record.MatchID { return record.MatchID{Stage: record.Qualification, Number: n} }
	match := record.Match{ID: q(1), Play: 1, Red: record.Alliance{Teams: []record.TeamID{"1", "2", "3"}}, Blue: record.Alliance{Teams: []record.TeamID{"4", "5", "6"}}}
	twice := match
	twice.Blue.Teams = []record.TeamID{"4", "5", "1"}
	o := record.Observation{Match: q(1), Team: "1", Scout: "s"}
	tests := []struct {
		name    string
		matches []record.Match
		records []record.Observation
		marks   []record.Mark
		want    string
	}{
		{"RobotTwice", []record.Match{twice}, nil, nil, "match Q1: column teams: team 1 stands twice; a robot plays once in a match"},
		{"PlayTwice", []record.Match{match, match}, nil, nil, "match Q1: column play: play 1 stands twice; keep one"},
		{"SameKey", []record.Match{match}, []record.Observation{o, o}, nil, "observation of 1 in Q1 by s: it stands twice; keep one"},
		{"Unknown", []record.Match{match}, nil, []record.Mark{{Team: "9", Match: q(1), Kind: "changed"}}, "mark of 9 in Q1: column team: team 9 is not in the team list; correct the number, or add the team there"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := table.Event(g, nil, tt.matches, tt.records, tt.marks)
			if err == nil || err.Error() != tt.want {
				t.Errorf("Event: %v\nwant   %s", err, tt.want)
			}
		})
	}
}

// TestWriteRefuses: what has no column is told rather than lost.
func TestWriteRefuses(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	q1 := record.MatchID{Stage: record.Qualification, Number: 1}
	result := func(r record.Result) []record.Match {
		return []record.Match{{ID: q1, Red: record.Alliance{Result: &r}}}
	}
	seen := func(o record.Observation) []record.Observation {
		o.Match, o.Team, o.Scout = q1, "1", "s"
		return []record.Observation{o}
	}
	for want, err := range map[string]error{
		`component "wind"`:  table.WriteMatches(io.Discard, g, result(record.Result{Components: map[string]float64{"wind": 1}})),
		`action "wind"`:     table.WriteMatches(io.Discard, g, result(record.Result{Robots: map[string][]string{"wind": {"1"}}})),
		`"gust"`:            table.WriteObservations(io.Discard, g, seen(record.Observation{Counts: map[string]record.Tally{"gust": {Made: new(1.0)}}})),
		`"pennant_missed"`:  table.WriteObservations(io.Discard, g, seen(record.Observation{Counts: map[string]record.Tally{"pennant": {Missed: new(1.0)}}})),
		`"mooring_tried"`:   table.WriteObservations(io.Discard, g, seen(record.Observation{Choices: map[string]record.Chosen{"mooring": {Tried: new(true)}}})),
		`value of "drive"`:  table.WriteObservations(io.Discard, g, seen(record.Observation{Answers: map[string]game.Answer{"drive": {Text: new("x")}}})),
		`value of "severe"`: table.WriteObservations(io.Discard, g, seen(record.Observation{Fouls: map[string]float64{"severe": 1}})),
	} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one about %s", err, want)
		}
	}
	var b bytes.Buffer
	if err := table.WriteObservations(&b, g, seen(record.Observation{Discarded: true})); err != nil || strings.Count(b.String(), "\n") != 1 {
		t.Errorf("a discarded observation was written: %v\n%s", err, b.String())
	}
}
