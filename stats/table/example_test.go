package table_test

import (
	"fmt"
	"strings"

	"sextant/stats/game"
	"sextant/stats/table"
)

const exampleGame = `{
  "id": "flags", "name": "Flags", "version": 1,
  "alliance": {"robots": 2},
  "periods": [{"id": "all", "name": "All", "seconds": 100}],
  "actions": [{"id": "flag", "period": "all", "kind": "count", "points": 5}]
}`

// Files are read together, so that a team that does not play is found. The
// error of the first file that is wrong names file, line and column.
func ExampleLoad() {
	g, err := game.Load("game.json", []byte(exampleGame))
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = table.Load(g, table.Files{
		Matches:      &table.File{Name: "matches.csv", R: strings.NewReader("match,alliance,teams,score\nQ1,red,41 42,30\nQ1,blue,43 44,25\n")},
		Observations: &table.File{Name: "observations.csv", R: strings.NewReader("match,team,scout,flag\nQ1,41,ann,4\nQ1,45,bo,\n")},
	})
	fmt.Println(err)
	// Output:
	// observations.csv:3: column team: team 45 is not in matches.csv; correct the number, or add the team there
}

// What a scout typed never runs in a spreadsheet, and comes back as it was.
func ExampleWriteObservations() {
	g, err := game.Load("game.json", []byte(exampleGame))
	if err != nil {
		fmt.Println(err)
		return
	}
	observations, err := table.ReadObservations("observations.csv", strings.NewReader("match,team,scout,flag,note\nQ1,41,ann,,'=SUM(A1)\n"), g)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(observations[0].Note)
	var written strings.Builder
	if err := table.WriteObservations(&written, g, observations); err != nil {
		fmt.Println(err)
	}
	fmt.Print(strings.ReplaceAll(written.String(), "\r\n", "\n"))
	// Output:
	// =SUM(A1)
	// match,team,scout,flag,absent,note
	// Q1,41,ann,,0,'=SUM(A1)
}
