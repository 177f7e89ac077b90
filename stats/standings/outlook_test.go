package standings

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// odds are given chances of one match: of the outcome, and of each alliance to
// have a full load. Nothing connects them.
type odds struct{ red, blue, redLaden, blueLaden float64 }

// given draws by odds. The winner has 10 points, the loser 5; a tie is 5 : 5.
type given struct {
	odds []odds
	rng  *rand.Rand
}

func (g given) from(rng *rand.Rand) drawer { return given{g.odds, rng} }

var pairsGame = pairs()

const laden = 2 // index of that ranking point in pairs

func (g given) draw(lines []line) {
	rng := g.rng
	for m, o := range g.odds {
		red, blue := &lines[2*m], &lines[2*m+1]
		*red, *blue = line{score: 5, parts: red.parts}, line{score: 5, parts: blue.parts}
		switch u := rng.Float64(); {
		case u < o.red:
			red.score = 10
		case u < o.red+o.blue:
			blue.score = 10
		}
		red.gained, blue.gained = set(0, laden, rng.Float64() < o.redLaden), set(0, laden, rng.Float64() < o.blueLaden)
		settle(pairsGame, red, blue)
	}
}

// tiny is an event of six robots with two matches played and three to come.
func tiny(t *testing.T) (*record.Event, given) {
	t.Helper()
	last := played(t, "Q5", 1, "4 1", "2 6")
	last.Blue.Surrogates = ids("2")
	return event("1 2 3 4 5 6",
		played(t, "Q1", 1, "1 2", "3 4", 10, 20, 0, 5, 0, 0),
		played(t, "Q2", 1, "5 6", "1 3", 5, 0, 0, 5, 20, 0),
		played(t, "Q3", 1, "2 3", "5 4"),
		played(t, "Q4", 1, "6 1", "5 3"),
		last,
	), given{odds: []odds{{0.5, 0.4, 0.3, 0.6}, {0.25, 0.65, 0.5, 0.2}, {0.45, 0.35, 0.1, 0.7}}}
}

// exact enumerates every course of the tiny event: chances of places with ties
// after the last step shared out, mean ranking points; and the chance that
// team 3 ends among the first two, over all and under a condition.
type exact struct {
	rank   map[record.TeamID][6]float64
	points map[record.TeamID]float64
	given  func(match int, what string) float64
	force  func(match int, what string) float64 // goal if it is made so
}

func enumerate(o []odds) exact {
	teams := ids("1 2 3 4 5 6")
	past := map[record.TeamID][3]float64{ // matches, ranking points, score
		"1": {2, 5, 15}, "2": {1, 3, 10}, "3": {2, 2, 10}, "4": {1, 0, 5}, "5": {1, 1, 5}, "6": {1, 1, 5},
	}
	matches := [3][2][]record.TeamID{{ids("2 3"), ids("5 4")}, {ids("6 1"), ids("5 3")}, {ids("4 1"), ids("6")}}
	outcomes := []string{"red", "blue", "tie"}
	type course struct {
		p    float64
		out  [3]string
		full [3][2]bool
	}
	var all []course
	var walk func(c course, m int)
	walk = func(c course, m int) {
		if m == 3 {
			all = append(all, c)
			return
		}
		for k, out := range outcomes {
			for r := range 2 {
				for b := range 2 {
					d := c
					d.p *= []float64{o[m].red, o[m].blue, 1 - o[m].red - o[m].blue}[k]
					d.p *= []float64{1 - o[m].redLaden, o[m].redLaden}[r] * []float64{1 - o[m].blueLaden, o[m].blueLaden}[b]
					d.out[m], d.full[m] = out, [2]bool{r == 1, b == 1}
					walk(d, m+1)
				}
			}
		}
	}
	walk(course{p: 1}, 0)
	// places of a course, each with a weight; forced changes the points for the
	// outcome and not the scores.
	places := func(c course, forced int, to string) (map[record.TeamID][6]float64, map[record.TeamID]float64) {
		now := map[record.TeamID][3]float64{}
		for t, v := range past {
			now[t] = v
		}
		for m, sides := range matches {
			out := c.out[m]
			if m == forced {
				out = to
			}
			for s, team := range sides {
				colour := outcomes[s]
				points, score := 0.0, 5.0
				switch out {
				case colour:
					points = 2
				case "tie":
					points = 1
				}
				if c.out[m] == colour {
					score = 10
				}
				if c.full[m][s] {
					points++
				}
				for _, t := range team {
					v := now[t]
					now[t] = [3]float64{v[0] + 1, v[1] + points, v[2] + score}
				}
			}
		}
		means, rank := map[record.TeamID]float64{}, map[record.TeamID][6]float64{}
		for _, t := range teams {
			better, same := 0, 0
			a := now[t]
			means[t] = a[1] / a[0]
			for _, u := range teams {
				b := now[u]
				points, score := b[1]*a[0]-a[1]*b[0], b[2]*a[0]-a[2]*b[0]
				switch {
				case points > 0 || points == 0 && score > 0:
					better++
				case points == 0 && score == 0:
					same++ // t itself too
				}
			}
			var r [6]float64
			for k := better; k < better+same; k++ {
				r[k] = 1 / float64(same)
			}
			rank[t] = r
		}
		return rank, means
	}
	e := exact{rank: map[record.TeamID][6]float64{}, points: map[record.TeamID]float64{}}
	for _, c := range all {
		rank, means := places(c, -1, "")
		for _, t := range teams {
			r := e.rank[t]
			for k := range r {
				r[k] += c.p * rank[t][k]
			}
			e.rank[t] = r
			e.points[t] += c.p * means[t]
		}
	}
	holds := func(c *course, m int, what string) bool {
		switch what {
		case "red laden":
			return c.full[m][0]
		case "blue laden":
			return c.full[m][1]
		}
		return c.out[m] == what
	}
	e.given = func(m int, what string) float64 {
		var p, got float64
		for _, c := range all {
			if holds(&c, m, what) {
				rank, _ := places(c, -1, "")
				p += c.p
				got += c.p * (rank["3"][0] + rank["3"][1])
			}
		}
		return got / p
	}
	e.force = func(m int, what string) float64 {
		var got float64
		for _, c := range all {
			to := what
			switch what {
			case "red laden", "not red laden":
				c.full[m][0], to = what == "red laden", c.out[m]
			case "blue laden", "not blue laden":
				c.full[m][1], to = what == "blue laden", c.out[m]
			case "not red", "not blue":
				if to = c.out[m]; "not "+to == what {
					to = map[string]string{"red": "blue", "blue": "red"}[to]
				}
			}
			rank, _ := places(c, m, to)
			got += c.p * (rank["3"][0] + rank["3"][1])
		}
		return got
	}
	return e
}

func near(t *testing.T, what string, got, want, se float64) {
	t.Helper()
	if math.Abs(got-want) > 5*se+1e-9 {
		t.Errorf("%s: %.4f, exactly %.4f; %.1f standard errors apart", what, got, want, math.Abs(got-want)/se)
	}
}

func TestAgainstEnumeration(t *testing.T) {
	t.Parallel()
	ev, chances := tiny(t)
	want := enumerate(chances.odds)
	const runs = 40000
	o, err := playOut(t.Context(), newBoard(ev), chances.from, Options{Runs: runs, Seed: 3, Team: "3"})
	if err != nil {
		t.Fatal(err)
	}
	for _, team := range o.Teams {
		mean, sum := 0.0, 0.0
		for k, p := range team.Rank {
			exact := want.rank[team.Team][k]
			near(t, string(team.Team)+" at a place", p, exact, math.Sqrt(exact*(1-exact)/runs))
			mean, sum = mean+exact*float64(k+1), sum+p
		}
		near(t, string(team.Team)+" mean rank", team.MeanRank, mean, 2/math.Sqrt(runs))
		near(t, string(team.Team)+" ranking points", team.RankingPoints, want.points[team.Team], 1/math.Sqrt(runs))
		seeded := want.rank[team.Team][0] + want.rank[team.Team][1]
		near(t, string(team.Team)+" seeded", team.Seeded, seeded, math.Sqrt(seeded*(1-seeded)/runs))
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s: places sum to %v", team.Team, sum)
		}
	}
	seen := 0
	g := o.Goal(2)
	near(t, "goal", g.Chance, want.rank["3"][0]+want.rank["3"][1], g.SE)
	for _, m := range g.Matters {
		what := m.Outcome
		if what == "" {
			what = string(m.Alliance) + " laden"
		}
		k := m.Match.Number - 3
		near(t, m.Match.String()+" "+what, m.Given, want.given(k, what), m.SE)
		if what != "tie" { // what a tie is compared with goes by turns
			seen++
			near(t, "effect of "+m.Match.String()+" "+what, m.Effect, want.force(k, what)-want.force(k, "not "+what), m.EffectSE)
		}
	}
	if seen < 8 {
		t.Errorf("only %d conditions matter", seen)
	}
	if g.Tree.Asks == nil || math.Abs(g.Tree.Chance-g.Chance) > 1e-12 {
		t.Errorf("tree %+v", g.Tree)
	}
	if len(o.Goal(4).Enough) == 0 {
		t.Error("nothing is enough for place 4")
	}
	for _, e := range o.Goal(4).Enough {
		if e.Given < surely || len(e.All) > mostAtOnce {
			t.Errorf("%+v is not enough", e)
		}
	}
	var sum float64
	for _, p := range g.Points {
		sum += p.Chance * p.Given
	}
	near(t, "the goal over points", sum, g.Chance, 0)
}

// The answer depends on the seed, not on the cores.
func TestSameOnAnyCores(t *testing.T) {
	t.Parallel()
	ev, chances := tiny(t)
	run := func(workers int, seed uint64) (*Outlook, Goal) {
		o, err := playOut(t.Context(), newBoard(ev), chances.from, Options{Runs: 5000, Seed: seed, Team: "3", workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		return o, o.Goal(2)
	}
	one, goalOne := run(1, 1)
	seven, goalSeven := run(7, 1)
	unexported := cmp.FilterPath(func(p cmp.Path) bool {
		return p.Last().String() == ".meeting" || p.Last().String() == ".side" || p.Last().String() == ".point"
	}, cmp.Ignore())
	if diff := cmp.Diff(one.Report, seven.Report); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(goalOne, goalSeven, unexported); diff != "" {
		t.Error(diff)
	}
	other, _ := run(1, 2)
	if cmp.Equal(one.Report, other.Report) {
		t.Error("another seed gives the same")
	}
}

func TestErrors(t *testing.T) {
	t.Parallel()
	ev, chances := tiny(t)
	source := chances.from
	if _, err := playOut(t.Context(), newBoard(ev), source, Options{Runs: 10, Team: "99"}); !errors.Is(err, ErrTeam) {
		t.Errorf("an unknown team: %v", err)
	}
	if _, err := playOut(t.Context(), newBoard(ev), source, Options{}); err == nil {
		t.Error("no runs are no error")
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := playOut(ended, newBoard(ev), source, Options{Runs: 10}); !errors.Is(err, context.Canceled) {
		t.Errorf("an ended context: %v", err)
	}
}

// invented is an event of the generator after its first played matches.
func invented(t testing.TB, teams, perTeam, seed int, share, watched float64) (*record.Event, *contrib.Fit) {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Watched = teams, perTeam, watched
	if watched == 0 {
		opt.Scouts = 0
	}
	w, err := generate.New(g, rand.New(rand.NewPCG(uint64(seed), 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	ev := w.Event(int(share * float64(w.Matches())))
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ev, fit
}

// A finished event is ranked as it is; before that every team has every place
// that it had once in the runs, and the sums are right.
func TestForecast(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.95} {
		ev, fit := invented(t, 18, 6, 2, 1, watched)
		o, err := Forecast(t.Context(), ev, fit, Options{Runs: 300, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range Current(ev) {
			if o.Teams[i].Team != p.Team || o.Teams[i].Rank[i] != 1 || math.Abs(o.Teams[i].RankingPoints-p.RankingPoints) > 1e-9 {
				t.Errorf("place %d is %s, and %s by the runs, surely %v", i+1, p.Team, o.Teams[i].Team, o.Teams[i].Rank[i])
			}
		}
		ev, fit = invented(t, 18, 6, 2, 0.6, watched)
		o, err = Forecast(t.Context(), ev, fit, Options{Runs: 600, Seed: 1, Team: ev.Teams[3].ID})
		if err != nil {
			t.Fatal(err)
		}
		var seeded, ranks float64
		for _, team := range o.Teams {
			seeded, ranks = seeded+team.Seeded, ranks+team.MeanRank
			if team.Best > team.Worst || team.Best < 1 {
				t.Errorf("%s: 80 %% from %d to %d", team.Team, team.Best, team.Worst)
			}
		}
		if n := float64(len(o.Teams)); math.Abs(seeded-8) > 1e-9 || math.Abs(ranks-n*(n+1)/2) > 1e-6 {
			t.Errorf("watched %v: %.3f captains, ranks sum to %.3f", watched, seeded, ranks)
		}
		if g := o.Goal(8); g.Chance <= 0 || g.Chance >= 1 || len(g.Matters) == 0 {
			t.Errorf("watched %v: goal %+v", watched, g)
		}
	}
}

// Where nobody watches, full loads are still given as often as the event had them.
func TestDonors(t *testing.T) {
	t.Parallel()
	ev, fit := invented(t, 18, 8, 4, 0.6, 0)
	b := newBoard(ev)
	var had, n float64
	for _, m := range b.played {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			got, _ := m.Gained(ev.Game, &ev.Game.RankingPoints[laden].When, c)
			had, n = had+btof(got), n+1
		}
	}
	rng := rand.New(rand.NewPCG(1, 1))
	d := simulatedFrom(b, fit)(rng)
	lines := make([]line, 2*len(b.rest))
	for i := range lines {
		lines[i].parts = make([]float64, len(b.steps))
	}
	var drawn, of float64
	for range 300 {
		d.draw(lines)
		for i := range lines {
			drawn, of = drawn+btof(lines[i].has(laden)), of+1
		}
	}
	if math.Abs(drawn/of-had/n) > 0.2 || drawn == 0 {
		t.Errorf("%s: %.2f of the played alliances, %.2f of the drawn", ev.Game.RankingPoints[laden].ID, had/n, drawn/of)
	}
}

func TestStrength(t *testing.T) {
	t.Parallel()
	ev, fit := invented(t, 18, 6, 2, 0.6, 0.95)
	got := Strength(ev, fit)
	var past float64
	for i, s := range got {
		if s.Team != ev.Teams[i].ID {
			t.Fatalf("entry %d is of %s", i, s.Team)
		}
		past += float64(s.Past.Matches)
	}
	if want := float64(6 * len(newBoard(ev).played)); past != want {
		t.Errorf("%v robots in matches, want %v", past, want)
	}
	// By hand, for one robot in its first match: two partners and an average
	// robot against three.
	m := &ev.Matches[0]
	first, _ := fit.Index(m.Red.Teams[0])
	one := *ev
	one.Matches = ev.Matches[:1]
	var average, edge float64
	for i := range ev.Teams {
		average += fit.Mean(i) / float64(len(ev.Teams))
	}
	edge = average
	for k, team := range m.Red.Teams {
		if i, _ := fit.Index(team); k > 0 {
			edge += fit.Mean(i)
		}
	}
	for _, team := range m.Blue.Teams {
		i, _ := fit.Index(team)
		edge -= fit.Mean(i)
	}
	if h := Strength(&one, fit)[first].Past; h.Matches != 1 || math.Abs(h.Edge-edge) > 1e-9 || math.Abs(3*h.Opponents-(average+2*h.Partners-edge)) > 1e-9 {
		t.Errorf("%+v, want an edge of %v", h, edge)
	}
}
