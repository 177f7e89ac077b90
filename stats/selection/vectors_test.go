package selection_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/selection"
)

var update = flag.Bool("update", false, "write testdata/selection/replay.json anew")

const vectorsFile = "../../testdata/selection/replay.json"

// vector is a log and what it makes of a board; the app's own replay reads the
// same file.
type vector struct {
	Name    string            `json:"name"`
	Rules   vectorRules       `json:"rules"`
	Ranking []record.TeamID   `json:"ranking"`
	Log     []selection.Entry `json:"log"`
	Board   vectorBoard       `json:"board"`
	Refused []refusal         `json:"refused"`
	Next    int               `json:"next_step"`
	Keep    int               `json:"keep"`
	Undo    []uuid.UUID       `json:"undo"` // what to take back so that Keep are left
}

type vectorRules struct {
	Alliances int `json:"alliances"`
	Picks     int `json:"picks"`
	Backups   int `json:"backups"`
}

type refusal struct {
	ID      uuid.UUID `json:"id"`
	Rule    string    `json:"rule"`
	Repeats bool      `json:"repeats"`
}

type vectorBoard struct {
	Turn      *selection.Turn          `json:"turn"`
	Alliances []selection.Formed       `json:"alliances"`
	Pool      []record.TeamID          `json:"pool"`
	Declined  []record.TeamID          `json:"declined"`
	Gone      []record.TeamID          `json:"gone"`
	WhyNot    map[record.TeamID]string `json:"why_not"` // teams that may not be invited
}

// fill works out what the log makes of the board.
func (v *vector) fill(t testing.TB) {
	t.Helper()
	start := board(t, selection.Rules(v.Rules), v.Ranking)
	b, refused := selection.Replay(start, v.Log)
	v.Board = vectorBoard{Alliances: append([]selection.Formed{}, b.Alliances()...), Pool: b.Pool(), Declined: b.Declined(), Gone: b.Gone(), WhyNot: map[record.TeamID]string{}}
	if turn, on := b.Turn(); on {
		v.Board.Turn = &turn
	}
	for _, team := range append(b.Ranking(), "99999") {
		if why := b.WhyNot(team); why != "" {
			v.Board.WhyNot[team] = why
		}
	}
	v.Refused = []refusal{}
	for _, r := range refused {
		v.Refused = append(v.Refused, refusal{r.ID, r.Rule, r.Repeats})
	}
	v.Next = selection.NextStep(v.Log)
	v.Undo = append([]uuid.UUID{}, selection.Undo(v.Log, v.Keep)...)
}

// invent makes the logs: the worked examples, then random ones written down on
// one to three devices that see each other's moves or do not.
func invent(t testing.TB) []vector {
	var out []vector
	w := load(t)
	for _, ex := range w.Examples {
		v := vector{Name: "worked: " + ex.Name, Rules: vectorRules{w.Alliances, w.Picks, 0}, Ranking: teams(w.Ranking), Keep: 5}
		for k, s := range ex.Steps {
			m := selection.Move{Captain: team(s.Captain), Round: s.Round, Invites: team(s.Invites), Answer: selection.Accepts}
			switch s.Answer {
			case "declines":
				m.Answer = selection.Declines
			case "nobody left":
				m.Invites, m.Answer = "", selection.NobodyLeft
			}
			v.Log = append(v.Log, entry(byte(k+1), s.Step, m))
		}
		out = append(out, v)
	}
	for seed := range uint64(16) {
		rng := rand.New(rand.NewPCG(seed, 9))
		rules := vectorRules{1 + rng.IntN(5), min(3, rng.IntN(5)), rng.IntN(3)}
		v := vector{Name: "random " + strconv.FormatUint(seed, 10), Rules: rules, Ranking: numbers(rules.Alliances + rng.IntN(14)), Keep: rng.IntN(8), Log: []selection.Entry{}}
		for device := range byte(1 + seed%3) {
			b := board(t, selection.Rules(rules), v.Ranking)
			own := []selection.Entry{}
			for range 18 {
				m := random(rng, b)
				if err := b.Move(m); err != nil && rng.IntN(8) > 0 {
					continue
				}
				e := entry(byte(len(own)+1), selection.NextStep(own), m)
				e.ID[0], e.ID[1], e.Removed = byte(rng.IntN(256)), device, rng.IntN(12) == 0
				own = append(own, e)
			}
			v.Log = append(v.Log, own...)
		}
		rng.Shuffle(len(v.Log), func(i, j int) { v.Log[i], v.Log[j] = v.Log[j], v.Log[i] })
		out = append(out, v)
	}
	return out
}

func TestVectors(t *testing.T) {
	t.Parallel()
	if *update {
		var lines []string
		for _, v := range invent(t) {
			v.fill(t)
			data, err := json.Marshal(v)
			if err != nil {
				t.Fatal(err)
			}
			lines = append(lines, string(data))
		}
		if err := os.WriteFile(vectorsFile, []byte("[\n"+strings.Join(lines, ",\n")+"\n]\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile(vectorsFile)
	if err != nil {
		t.Fatal(err)
	}
	var all []vector
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&all); err != nil {
		t.Fatal(err)
	}
	if len(all) < 10 {
		t.Errorf("%d vectors only", len(all))
	}
	for _, v := range all {
		got := v
		got.fill(t)
		if diff := cmp.Diff(v, got); diff != "" {
			t.Errorf("%s: %s", v.Name, diff)
		}
	}
}
