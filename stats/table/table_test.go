package table_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sextant/stats/game"
	"sextant/stats/table"
)

// load reads a game of testdata/games.
func load(t testing.TB, name string) *game.Game {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "games", name))
	if err != nil {
		t.Fatal(err)
	}
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// crlf gives text the line ends that writing uses.
func crlf(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }

const matchesCSV = `match,starts_at,alliance,teams,surrogates,score,from_fouls,autonomous,finish,barrels,ranking_points
Q1,2031-03-06T09:00:00-05:00,red,40117 40123 40102,,96,4,21,14,17,3
Q1,2031-03-06T09:00:00-05:00,blue,40131 40109 40140,40109,71,0,18,4,12,0
Q2,2031-03-06T09:08:00-05:00,red,40105 40111 40148,,,,,,,
Q2,2031-03-06T09:08:00-05:00,blue,40106 40112 40147,,,,,,,
`

const observationsCSV = `match,team,scout,cast_off,auto_deck,auto_deck_missed,deck,deck_missed,hold,hold_missed,pennant,mooring,minor,major,start,stopped,absent,note
Q1,40117,s03,1,2,0,5,1,3,0,1,lifted,0,0,left,0,0,
`

func TestRoundTrip(t *testing.T) {
	t.Parallel()
	g := load(t, "slackwater.json")
	var out bytes.Buffer
	matches, err := table.ReadMatches("matches.csv", strings.NewReader(matchesCSV), g)
	if err != nil {
		t.Fatal(err)
	}
	if err := table.WriteMatches(&out, g, matches); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != crlf(matchesCSV) {
		t.Errorf("matches:\n%s", got)
	}
	out.Reset()
	obs, err := table.ReadObservations("observations.csv", strings.NewReader(observationsCSV), g)
	if err != nil {
		t.Fatal(err)
	}
	if err := table.WriteObservations(&out, g, obs); err != nil {
		t.Fatal(err)
	}
	if got := out.String(); got != crlf(observationsCSV) {
		t.Errorf("observations:\n%s", got)
	}
}
