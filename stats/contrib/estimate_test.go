package contrib

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/record"
)

// event turns a reference event into the program's own types.
func (ev *refEvent) event() *record.Event {
	out := &record.Event{Game: contribtest.Game()}
	for _, r := range ev.Robots {
		out.Teams = append(out.Teams, record.Team{ID: record.TeamID(fmt.Sprint(r))})
	}
	alliance := func(robots []int, score float64) record.Alliance {
		a := record.Alliance{Result: &record.Result{Score: score}}
		for _, r := range robots {
			a.Teams = append(a.Teams, record.TeamID(fmt.Sprint(r)))
		}
		return a
	}
	for _, m := range ev.Matches {
		out.Matches = append(out.Matches, record.Match{
			ID: record.MatchID{Stage: record.Qualification, Number: m.Match}, Play: 1,
			Red: alliance(m.Red, m.RedS), Blue: alliance(m.Blue, m.BlueS),
		})
	}
	return out
}

// The whole way from an event to what the command line prints: the mixed model
// to 1e-6 of 40-digit REML, least squares to 1e-9 of R's lm. Without records
// the estimate is the mixed model, nothing more.
func TestEstimateReference(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"small", "medium", "early", "flat"} {
		t.Run(name, func(t *testing.T) {
			ev, ex := readEvent(t, name)
			fit := mustEstimate(t, ev.event(), Options{})
			want := ex.High.Score
			for i, e := range fit.Record().Teams {
				mean, sd := want.Fixed.Mu/3, want.Fixed.SE/3 // robots that do not differ
				if want.Contribution != nil {
					mean, sd = want.Contribution[i], want.ContributionSD[i]
				}
				near(t, "points", e.Points, mean)
				near(t, "now", e.Now, mean)
				near(t, "working", e.Working, mean)
				near(t, "sd", e.SD, sd)
				near(t, "now_sd", e.NowSD, sd)

				ls := e.LeastSquares
				if ex.MinimumNorm != nil {
					if ls.Offence != nil || ls.Defence != nil || ls.Margin != nil {
						t.Errorf("team %s: fewer rows than robots, but a least-squares value", e.Team)
					}
					continue
				}
				for key, got := range map[string]*float64{"offence": ls.Offence, "allowed": ls.Defence, "margin": ls.Margin} {
					if w := ex.OLS[key].Coefficients[i]; got == nil || math.Abs(*got-w) > 1e-9 {
						t.Errorf("team %s %s: %v, want %v", e.Team, key, got, w)
					}
				}
			}
			c := fit.Record().Fit.Components
			near(t, "robot sd", c["robot"], math.Sqrt(want.Variance.Robot))
			near(t, "match sd", c["match"], math.Sqrt(want.Variance.Residual))
			near(t, "log likelihood", -2*fit.Record().Fit.LogLikelihood, want.Criterion)
		})
	}
}

func mustEstimate(t testing.TB, ev *record.Event, opt Options) *Fit {
	t.Helper()
	fit, err := Estimate(ev, opt)
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

func watchedWorld(seed uint64) *contribtest.World {
	return contribtest.New(rand.New(rand.NewPCG(seed, 3)), contribtest.Options{
		Robots: 24, Matches: 40, Watched: 0.8, Twice: 0.1, Blank: 0.05, Noise: 1, Fouls: true, Stops: true,
	})
}

// clone copies what the tests change.
func clone(ev *record.Event) *record.Event {
	out := *ev
	out.Teams = slices.Clone(ev.Teams)
	out.Matches = slices.Clone(ev.Matches)
	out.Observations = slices.Clone(ev.Observations)
	return &out
}

// same compares two estimates; components come from a search, which stops
// within about 1e-6 of the optimum.
func same(t *testing.T, got, want record.Estimate) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-4, 1e-6)); diff != "" {
		t.Errorf("estimates differ (-want +got):\n%s", diff)
	}
}

func TestEstimateIsDeterministic(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(1).Event
	a, b := mustEstimate(t, ev, Options{}), mustEstimate(t, ev, Options{})
	if diff := cmp.Diff(a.Record(), b.Record()); diff != "" {
		t.Error(diff)
	}
}

func TestEstimateOrderOfRows(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(2).Event
	want := mustEstimate(t, ev, Options{})
	rng := rand.New(rand.NewPCG(5, 5))
	other := clone(ev)
	rng.Shuffle(len(other.Observations), func(i, j int) {
		other.Observations[i], other.Observations[j] = other.Observations[j], other.Observations[i]
	})
	rng.Shuffle(len(other.Teams), func(i, j int) { other.Teams[i], other.Teams[j] = other.Teams[j], other.Teams[i] })
	for i := range other.Matches {
		m := &other.Matches[i]
		m.Red.Teams = slices.Clone(m.Red.Teams)
		slices.Reverse(m.Red.Teams)
	}
	same(t, mustEstimate(t, other, Options{}).Record(), want.Record())
}

func TestEstimateRelabelledTeams(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(3).Event
	want := mustEstimate(t, ev, Options{}).Record()
	rng := rand.New(rand.NewPCG(6, 6))
	label := map[record.TeamID]record.TeamID{}
	for i, k := range rng.Perm(len(ev.Teams)) {
		label[ev.Teams[i].ID] = record.TeamID(fmt.Sprint(9000 - k))
	}
	other := clone(ev)
	for i := range other.Teams {
		other.Teams[i].ID = label[other.Teams[i].ID]
	}
	for i := range other.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := other.Matches[i].Side(c)
			a.Teams = slices.Clone(a.Teams)
			for k := range a.Teams {
				a.Teams[k] = label[a.Teams[k]]
			}
		}
	}
	for i := range other.Observations {
		other.Observations[i].Team = label[other.Observations[i].Team]
	}
	got := mustEstimate(t, other, Options{}).Record()
	for i := range want.Teams {
		want.Teams[i].Team = label[want.Teams[i].Team]
	}
	slices.SortFunc(want.Teams, func(a, b record.TeamEstimate) int { return record.CompareTeams(a.Team, b.Team) })
	same(t, got, want)
}

func TestEstimateRedAndBlueExchanged(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(4).Event
	other := clone(ev)
	for i := range other.Matches {
		m := &other.Matches[i]
		m.Red, m.Blue = m.Blue, m.Red
	}
	same(t, mustEstimate(t, other, Options{}).Record(), mustEstimate(t, ev, Options{}).Record())
}

// Points worth four times as much: every figure in points is four times as
// large, every count and share as before.
func TestEstimateScaled(t *testing.T) {
	t.Parallel()
	const factor = 4
	ev := watchedWorld(5).Event
	want := mustEstimate(t, ev, Options{}).Record()
	other := clone(ev)
	g := contribtest.Game()
	for i := range g.Actions {
		g.Actions[i].Points *= factor
		for k := range g.Actions[i].Options {
			g.Actions[i].Options[k].Points *= factor
		}
	}
	other.Game = g
	for i := range other.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := other.Matches[i].Side(c)
			fouls := factor * *a.Result.FromFouls
			a.Result = &record.Result{Score: factor * a.Result.Score, FromFouls: &fouls}
		}
	}
	got := mustEstimate(t, other, Options{}).Record()
	for i := range want.Teams {
		w := &want.Teams[i]
		for _, p := range []*float64{&w.Points, &w.SD, &w.Now, &w.NowSD, &w.Working, w.LeastSquares.Offence, w.LeastSquares.Defence, w.LeastSquares.Margin} {
			*p *= factor
		}
	}
	for k := range want.Fit.Components {
		want.Fit.Components[k] *= factor
	}
	want.Fit.LogLikelihood = got.Fit.LogLikelihood // a density: it moves by rows·log 4
	same(t, got, want)
}

func observed(match int, team record.TeamID, high, low *float64, park string) record.Observation {
	o := record.Observation{
		Match: record.MatchID{Stage: record.Qualification, Number: match}, Play: 1, Team: team, Scout: "s01",
		Counts: map[string]record.Tally{}, Choices: map[string]record.Chosen{},
	}
	if high != nil {
		o.Counts["high"] = record.Tally{Made: high}
	}
	if low != nil {
		o.Counts["low"] = record.Tally{Made: low}
	}
	if park != "" {
		o.Choices["park"] = record.Chosen{Option: park}
	}
	return o
}

func number(v float64) *float64 { return &v }

func TestEstimateOneRecordMovesIt(t *testing.T) {
	t.Parallel()
	ev, _ := readEvent(t, "small")
	bare := ev.event()
	without := mustEstimate(t, bare, Options{}).Record()
	m := bare.Matches[0]
	team := m.Red.Teams[0]
	at := func(e record.Estimate) record.TeamEstimate {
		return e.Teams[slices.IndexFunc(e.Teams, func(x record.TeamEstimate) bool { return x.Team == team })]
	}
	withHigh := clone(bare)
	withHigh.Observations = []record.Observation{observed(1, team, number(6), number(4), "on")} // 42 points of the alliance's 79
	withLow := clone(bare)
	withLow.Observations = []record.Observation{observed(1, team, number(0), number(1), "none")} // 2 points
	high, low := at(mustEstimate(t, withHigh, Options{}).Record()), at(mustEstimate(t, withLow, Options{}).Record())
	if b := at(without); !(high.Points > b.Points+1 && low.Points < b.Points-1) {
		t.Errorf("points: %.2f without a record, %.2f with a high and %.2f with a low one", b.Points, high.Points, low.Points)
	}
	if high.Watched != 1 || high.Matches != 12 {
		t.Errorf("watched %d of %d matches, want 1 of 12", high.Watched, high.Matches)
	}
	// What the record adds to one robot, the total takes off its partners.
	partner := m.Red.Teams[1]
	find := func(e record.Estimate) float64 {
		return e.Teams[slices.IndexFunc(e.Teams, func(x record.TeamEstimate) bool { return x.Team == partner })].Points
	}
	if h, l := find(mustEstimate(t, withHigh, Options{}).Record()), find(mustEstimate(t, withLow, Options{}).Record()); h >= l {
		t.Errorf("partner has %.2f when the robot scored much and %.2f when it scored little", h, l)
	}
}

// An empty cell is not a zero: the robot's own usual value stands in for it.
func TestEstimateEmptyCell(t *testing.T) {
	t.Parallel()
	w := watchedWorld(7)
	ev := clone(w.Event)
	// A robot that scores three or so: neither a zero nor what was seen is an outlier.
	before := mustEstimate(t, ev, Options{}).Record()
	i := slices.IndexFunc(ev.Observations, func(o record.Observation) bool {
		usual := before.Teams[slices.IndexFunc(before.Teams, func(x record.TeamEstimate) bool { return x.Team == o.Team })].Actions["high"].Mean
		return o.Counts["high"].Made != nil && math.Abs(*o.Counts["high"].Made-usual) < 1 && usual > 2 && usual < 4
	})
	team := ev.Observations[i].Team
	change := func(made *float64) float64 {
		other := clone(ev)
		o := other.Observations[i]
		o.Counts = map[string]record.Tally{}
		if made != nil {
			o.Counts["high"] = record.Tally{Made: made}
		}
		if low, ok := ev.Observations[i].Counts["low"]; ok {
			o.Counts["low"] = low
		}
		other.Observations[i] = o
		e := mustEstimate(t, other, Options{}).Record()
		return e.Teams[slices.IndexFunc(e.Teams, func(x record.TeamEstimate) bool { return x.Team == team })].Working
	}
	seen, empty, zero := change(ev.Observations[i].Counts["high"].Made), change(nil), change(number(0))
	if !(zero < empty-0.2 && zero < seen-0.2) {
		t.Errorf("working: %.3f as seen, %.3f with an empty cell, %.3f with a zero", seen, empty, zero)
	}
	// A record with every cell empty says nothing at all about points.
	nothing := clone(ev)
	nothing.Observations = append(nothing.Observations, record.Observation{Match: ev.Matches[0].ID, Play: 1, Team: team, Scout: "s99"})
	got, want := mustEstimate(t, nothing, Options{}).Record(), mustEstimate(t, ev, Options{}).Record()
	for k := range want.Teams {
		want.Teams[k].Watched = got.Teams[k].Watched
	}
	same(t, got, want)
}

func TestEstimateFewData(t *testing.T) {
	t.Parallel()
	teams := func(n int) (out []record.Team) {
		for i := range n {
			out = append(out, record.Team{ID: record.TeamID(fmt.Sprint(1 + i))})
		}
		return out
	}
	match := func(n int, red, blue string, rs, bs float64) record.Match {
		side := func(list string, score float64) (a record.Alliance) {
			for _, t := range strings.Fields(list) {
				a.Teams = append(a.Teams, record.TeamID(t))
			}
			a.Result = &record.Result{Score: score}
			return a
		}
		return record.Match{ID: record.MatchID{Stage: record.Qualification, Number: n}, Play: 1, Red: side(red, rs), Blue: side(blue, bs)}
	}
	one := match(1, "1 2 3", "4 5 6", 60, 30)
	cases := []struct {
		name string
		ev   *record.Event
		// wide: the least sd of every robot, in shares of the mean contribution
		wide float64
	}{
		{"OneMatch", &record.Event{Teams: teams(6), Matches: []record.Match{one}}, 0.3},
		{"OneMatchEqualScores", &record.Event{Teams: teams(6), Matches: []record.Match{match(1, "1 2 3", "4 5 6", 45, 45)}}, 0.3},
		{"RobotWithoutMatch", &record.Event{Teams: teams(7), Matches: []record.Match{one}}, 0.3},
		{"NothingScored", &record.Event{Teams: teams(6), Matches: []record.Match{match(1, "1 2 3", "4 5 6", 0, 0)}}, 0},
		{"OneRecordNoResult", &record.Event{Teams: teams(6), Matches: []record.Match{{ID: one.ID, Play: 1, Red: record.Alliance{Teams: one.Red.Teams}, Blue: record.Alliance{Teams: one.Blue.Teams}}},
			Observations: []record.Observation{observed(1, "1", number(5), nil, "on")}}, 0.2},
		{"OneRecordWithoutSchedule", &record.Event{Teams: teams(2), Observations: []record.Observation{observed(1, "1", number(5), nil, "")}}, 0.2},
		{"OneRecord", &record.Event{Teams: teams(6), Matches: []record.Match{one}, Observations: []record.Observation{observed(1, "1", number(5), number(2), "on")}}, 0.2},
		{"AlwaysTogether", &record.Event{Teams: teams(8), Matches: []record.Match{
			match(1, "1 2 3", "4 5 6", 60, 30), match(2, "1 2 7", "8 5 3", 55, 40), match(3, "4 7 6", "1 2 8", 20, 70), match(4, "3 5 7", "1 2 4", 44, 61)}}, 0.15},
		{"Disconnected", &record.Event{Teams: teams(12), Matches: []record.Match{
			match(1, "1 2 3", "4 5 6", 60, 30), match(2, "7 8 9", "10 11 12", 55, 40), match(3, "1 4 5", "2 3 6", 52, 47)}}, 0.2},
		{"Absent", func() *record.Event {
			m := one
			m.Red.Absent = []record.TeamID{"2", "3"}
			return &record.Event{Teams: teams(6), Matches: []record.Match{m}}
		}(), 0.2},
		{"NobodyCame", func() *record.Event {
			m := one
			m.Red.Absent = m.Red.Teams
			return &record.Event{Teams: teams(6), Matches: []record.Match{m}}
		}(), 0.2},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.ev.Game = contribtest.Game()
			fit := mustEstimate(t, c.ev, Options{})
			e := fit.Record()
			var mean float64
			for _, x := range e.Teams {
				mean += math.Abs(x.Points) / float64(len(e.Teams))
			}
			for i, x := range e.Teams {
				for what, v := range map[string]float64{"points": x.Points, "sd": x.SD, "now": x.Now, "now_sd": x.NowSD, "working": x.Working, "stops": x.Stops, "match variance": fit.MatchVariance(i)} {
					if math.IsNaN(v) || math.IsInf(v, 0) {
						t.Errorf("team %s: %s is %v", x.Team, what, v)
					}
				}
				if x.SD <= 0 || x.SD < c.wide*mean || x.NowSD < c.wide*mean {
					t.Errorf("team %s: points %.1f ± %.2f, now ± %.2f: not wide for a mean of %.1f", x.Team, x.Points, x.SD, x.NowSD, mean)
				}
			}
			if _, err := json.Marshal(e); err != nil {
				t.Error(err) // NaN has no JSON
			}
		})
	}

	t.Run("TogetherAreEqual", func(t *testing.T) {
		ev := cases[slices.IndexFunc(cases, func(c struct {
			name string
			ev   *record.Event
			wide float64
		}) bool {
			return c.name == "AlwaysTogether"
		})].ev
		e := mustEstimate(t, ev, Options{}).Record()
		if a, b := e.Teams[0], e.Teams[1]; math.Abs(a.Points-b.Points) > 1e-9 || math.Abs(a.SD-b.SD) > 1e-9 {
			t.Errorf("two robots that nothing tells apart: %.4f ± %.4f and %.4f ± %.4f", a.Points, a.SD, b.Points, b.SD)
		}
	})
	t.Run("Nothing", func(t *testing.T) {
		for _, ev := range []*record.Event{
			{Game: contribtest.Game()}, {Game: contribtest.Game(), Teams: teams(6)},
			{Game: contribtest.Game(), Teams: teams(2), Observations: []record.Observation{{Team: "1", Scout: "s01", Match: one.ID}}},
		} {
			if _, err := Estimate(ev, Options{}); !errors.Is(err, ErrNoData) {
				t.Errorf("error %v, want ErrNoData", err)
			}
		}
	})
}

// Many matches with the same score leave no noise to estimate; certainty would
// be a division by zero later.
func TestEstimateAllScoresEqual(t *testing.T) {
	t.Parallel()
	ev, _ := readEvent(t, "small")
	for i := range ev.Matches {
		ev.Matches[i].RedS, ev.Matches[i].BlueS = 60, 60
	}
	fit := mustEstimate(t, ev.event(), Options{})
	for _, e := range fit.Record().Teams {
		if math.Abs(e.Points-20) > 1e-9 || !(e.SD > 0) {
			t.Errorf("team %s: %v ± %v", e.Team, e.Points, e.SD)
		}
	}
	if v := fit.MatchVariance(0); !(v > 0) {
		t.Errorf("match variance %v", v)
	}
}

func TestEstimateStopsAndAbsence(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(9, 9)), contribtest.Options{Robots: 18, Matches: 36, Watched: 1, Noise: 0.5})
	ev := clone(w.Event)
	team := ev.Teams[4].ID
	n := 0
	for i := range ev.Observations {
		o := &ev.Observations[i]
		if o.Team != team {
			continue
		}
		if n++; n%3 == 0 {
			*o = record.Observation{Match: o.Match, Play: 1, Team: team, Scout: o.Scout, Absent: true}
			continue
		}
		stood := 0.0
		if n == 1 {
			stood = 45 // a third of the driver-controlled period
		}
		o.Answers = map[string]game.Answer{"stood": {Number: &stood}}
	}
	e := mustEstimate(t, ev, Options{}).Record().Teams[4]
	stopped := float64(n/3 + 1)
	if got, want := e.Stops, stopped/float64(n); math.Abs(got-want) > 1e-12 {
		t.Errorf("stops %v, want %v of %d matches", got, want, n)
	}
	if !(e.Now < 0.85*e.Working && e.Points < 0.85*e.Working) {
		t.Errorf("a robot that is absent every third match: working %.1f, now %.1f, points %.1f", e.Working, e.Now, e.Points)
	}
	// A robot that never stopped keeps nearly all of its strength.
	if o := mustEstimate(t, ev, Options{}).Record().Teams[5]; o.Now < 0.93*o.Working || o.Stops != 0 {
		t.Errorf("a robot that never stopped: working %.1f, now %.1f, stops %v", o.Working, o.Now, o.Stops)
	}
}

// In a game that does not ask for stops, records say nothing about them.
func TestEstimateNoQuestionAboutStops(t *testing.T) {
	t.Parallel()
	ev := clone(watchedWorld(10).Event)
	g := contribtest.Game()
	g.Questions = nil
	ev.Game = g
	for i := range ev.Observations {
		ev.Observations[i].Answers = nil
	}
	for _, e := range mustEstimate(t, ev, Options{}).Record().Teams {
		if e.Stops != 0 || e.Now < 0.95*e.Working {
			t.Errorf("team %s: working %.1f, now %.1f, stops %v", e.Team, e.Working, e.Now, e.Stops)
		}
	}
}

func TestEstimateFoulsAreLeftOut(t *testing.T) {
	t.Parallel()
	ev, _ := readEvent(t, "small")
	bare := ev.event()
	want := mustEstimate(t, bare, Options{}).Record()
	fouled := clone(bare)
	for i := range fouled.Matches {
		m := &fouled.Matches[i]
		for k, a := range []*record.Alliance{&m.Red, &m.Blue} {
			points := float64(4 * ((i + k) % 3))
			a.Result = &record.Result{Score: a.Result.Score + points, FromFouls: &points}
		}
	}
	fit := mustEstimate(t, fouled, Options{})
	for i, e := range fit.Record().Teams {
		if math.Abs(e.Points-want.Teams[i].Points) > 1e-9 {
			t.Errorf("team %s: %v with fouls, %v without", e.Team, e.Points, want.Teams[i].Points)
		}
		if *e.LeastSquares.Offence <= *want.Teams[i].LeastSquares.Offence-4 {
			t.Errorf("team %s: OPR has fouls in, %v", e.Team, *e.LeastSquares.Offence)
		}
	}
	if mean, variance := fit.Fouls(); math.Abs(mean-4) > 1e-9 || variance < 10 || variance > 20 {
		t.Errorf("fouls: mean %v, variance %v, want 4 and about 32/3", mean, variance)
	}
}

// A voided play still tells about robots, but its records are not tied to the
// result of the later one.
func TestEstimateReplay(t *testing.T) {
	t.Parallel()
	w := watchedWorld(11)
	ev := clone(w.Event)
	first := ev.Matches[4]
	void := first
	void.Red.Result = &record.Result{Score: 9999, FromFouls: number(0)}
	void.Blue.Result = &record.Result{Score: 9999, FromFouls: number(0)}
	again := first
	again.Play = 2
	ev.Matches = slices.Insert(slices.Delete(ev.Matches, 4, 5), 4, void, again)
	got := mustEstimate(t, ev, Options{}).Record()
	want := mustEstimate(t, w.Event, Options{}).Record()
	if got.Fit.Matches != want.Fit.Matches {
		t.Errorf("%d matches, want %d", got.Fit.Matches, want.Fit.Matches)
	}
	for i := range got.Teams {
		if math.Abs(got.Teams[i].Points-want.Teams[i].Points) > 0.1*want.Teams[i].Points {
			t.Errorf("team %s: %.2f, before the replay %.2f: the void result counts", got.Teams[i].Team, got.Teams[i].Points, want.Teams[i].Points)
		}
	}
	if got.Fit.Records != want.Fit.Records {
		t.Errorf("%d records used, want %d", got.Fit.Records, want.Fit.Records)
	}
}

// A record of a robot that was not in the match is about another one.
func TestEstimateRobotNotInMatch(t *testing.T) {
	t.Parallel()
	ev := watchedWorld(15).Event
	m := ev.Matches[0]
	other := clone(ev)
	for _, x := range ev.Teams {
		if !slices.Contains(m.Red.Teams, x.ID) && !slices.Contains(m.Blue.Teams, x.ID) {
			other.Observations = append(other.Observations, observed(1, x.ID, number(30), number(30), "on"))
		}
	}
	if len(other.Observations) == len(ev.Observations) {
		t.Fatal("every robot is in the match")
	}
	same(t, mustEstimate(t, other, Options{}).Record(), mustEstimate(t, ev, Options{}).Record())
}

// A slip of the finger: 99 for 9. It must neither lift the robot by much nor
// widen everybody.
func TestEstimateOutlier(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(12, 3)), contribtest.Options{Robots: 24, Matches: 40, Watched: 1, Noise: 1})
	want := mustEstimate(t, w.Event, Options{}).Record()
	ev := clone(w.Event)
	ev.Observations[100].Counts = map[string]record.Tally{"high": {Made: number(99)}, "low": ev.Observations[100].Counts["low"]}
	got := mustEstimate(t, ev, Options{}).Record()
	for i := range got.Teams {
		if math.Abs(got.Teams[i].Points-want.Teams[i].Points) > 0.5*want.Teams[i].SD {
			t.Errorf("team %s: %.2f ± %.2f, without the slip %.2f", got.Teams[i].Team, got.Teams[i].Points, got.Teams[i].SD, want.Teams[i].Points)
		}
	}
	if g, w := got.Fit.Components["record"], want.Fit.Components["record"]; g > 1.3*w {
		t.Errorf("records are off by %.2f, without the slip by %.2f", g, w)
	}
}

func TestEstimateMarkWidensNow(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.8} {
		w := contribtest.New(rand.New(rand.NewPCG(13, 3)), contribtest.Options{Robots: 24, Matches: 40, Watched: watched, Noise: 1})
		want := mustEstimate(t, w.Event, Options{}).Record()
		ev := clone(w.Event)
		team := ev.Teams[3].ID
		for _, late := range []int{20, 41} { // 41: after all that was played
			ev.Marks = []record.Mark{{Team: team, Match: record.MatchID{Stage: record.Qualification, Number: late}, Kind: "changed"}}
			got := mustEstimate(t, ev, Options{}).Record()
			if g, w := got.Teams[3].NowSD, want.Teams[3].NowSD; g < 1.2*w {
				t.Errorf("watched %v, mark from Q%d: now ± %.3f, without ± %.3f", watched, late, g, w)
			}
			if g, w := got.Teams[0], want.Teams[0]; math.Abs(g.NowSD-w.NowSD) > 0.1*w.NowSD {
				t.Errorf("another robot: now ± %.3f, without the mark ± %.3f", g.NowSD, w.NowSD)
			}
		}
		if got := mustEstimate(t, ev, Options{}).Record().Teams[3]; math.Abs(got.SD-want.Teams[3].SD) > 0.05*got.SD {
			t.Errorf("a mark after the last match changes what was: ± %.3f, without ± %.3f", got.SD, want.Teams[3].SD)
		}
	}
}

func TestEstimatePrior(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(14, 3)), contribtest.Options{Robots: 24, Matches: 60, Watched: 0.9, Noise: 1})
	earlier := clone(w.Event)
	earlier.Matches = earlier.Matches[:40]
	earlier.Observations = slices.DeleteFunc(earlier.Observations, func(o record.Observation) bool { return o.Match.Number > 40 })
	later := clone(w.Event)
	later.Matches = later.Matches[40:46]
	later.Observations = nil
	prior := mustEstimate(t, earlier, Options{}).Record()

	rmse := func(e record.Estimate) (s float64) {
		var mean float64
		for i, x := range e.Teams {
			mean += (x.Working - w.Strength[i]) / float64(len(e.Teams))
		}
		for i, x := range e.Teams { // the level may shift between events
			s += square(x.Working-w.Strength[i]-mean) / float64(len(e.Teams))
		}
		return math.Sqrt(s)
	}
	without := mustEstimate(t, later, Options{}).Record()
	with := mustEstimate(t, later, Options{Prior: &prior}).Record()
	if a, b := rmse(with), rmse(without); a > 0.8*b {
		t.Errorf("error %.2f with what the earlier event told, %.2f without", a, b)
	}
	for i := range with.Teams {
		if with.Teams[i].NowSD < prior.Teams[i].NowSD {
			t.Errorf("team %s: ± %.2f, at the earlier event's end ± %.2f: not widened", with.Teams[i].Team, with.Teams[i].NowSD, prior.Teams[i].NowSD)
		}
	}

	t.Run("BeforeTheFirstMatch", func(t *testing.T) {
		only := &record.Event{Game: later.Game, Teams: append(slices.Clone(later.Teams), record.Team{ID: "999"})}
		e := mustEstimate(t, only, Options{Prior: &prior}).Record()
		for i := range prior.Teams {
			if math.Abs(e.Teams[i].Now-prior.Teams[i].Working) > 0.5*prior.Teams[i].NowSD {
				t.Errorf("team %s: %.2f, earlier %.2f", e.Teams[i].Team, e.Teams[i].Now, prior.Teams[i].Working)
			}
		}
		if last := e.Teams[len(e.Teams)-1]; last.NowSD < e.Teams[0].NowSD {
			t.Errorf("a newcomer is known to ± %.2f, the others to ± %.2f", last.NowSD, e.Teams[0].NowSD)
		}
	})
	t.Run("WithRecords", func(t *testing.T) {
		watched := clone(w.Event)
		watched.Matches = w.Event.Matches[40:46]
		watched.Observations = slices.DeleteFunc(watched.Observations, func(o record.Observation) bool { return o.Match.Number <= 40 || o.Match.Number > 46 })
		if a, b := rmse(mustEstimate(t, watched, Options{Prior: &prior}).Record()), rmse(mustEstimate(t, watched, Options{}).Record()); a > 0.8*b {
			t.Errorf("error %.2f with what the earlier event told, %.2f without", a, b)
		}
	})
	t.Run("Refused", func(t *testing.T) {
		broken := prior
		broken.Teams = slices.Clone(prior.Teams)
		broken.Teams[2].NowSD = 0
		var bad *PriorError
		if _, err := Estimate(later, Options{Prior: &broken}); !errors.As(err, &bad) || !strings.Contains(err.Error(), string(broken.Teams[2].Team)) {
			t.Errorf("error %v, want a PriorError that names team %s", err, broken.Teams[2].Team)
		}
	})
}

// Against the truth of invented events: records cut the error, and 80 %
// intervals hold about 80 % of the robots.
func TestEstimateRecoversStrength(t *testing.T) {
	t.Parallel()
	run := func(watched, noise, wrong float64) (rmse, covered float64) {
		n := 0.0
		for seed := range uint64(4) {
			w := contribtest.New(rand.New(rand.NewPCG(seed, 77)), contribtest.Options{
				Robots: 36, Matches: 72, Watched: watched, Twice: 0.05, Blank: 0.05, Noise: noise, Wrong: wrong, Fouls: true,
			})
			for i, e := range mustEstimate(t, w.Event, Options{}).Record().Teams {
				off := e.Working - w.Strength[i]
				rmse += off * off
				n++
				if math.Abs(off) < 1.2816*e.SD {
					covered++
				}
			}
		}
		return math.Sqrt(rmse / n), covered / n
	}
	totals, c0 := run(0, 1, 0)
	good, c1 := run(0.95, 1, 0)
	poor, c2 := run(0.5, 2.5, 0.03)
	t.Logf("rmse %.2f %.2f %.2f, coverage %.2f %.2f %.2f", totals, good, poor, c0, c1, c2)
	if !(good < 0.75*totals && good < poor && poor < totals) {
		t.Errorf("rmse %.2f with good records, %.2f with poor ones, %.2f with none", good, poor, totals)
	}
	for _, c := range []float64{c0, c1, c2} {
		if c < 0.7 || c > 0.9 { // 144 robots: ±0.07 is two standard errors
			t.Errorf("80 %% intervals cover %.2f", c)
		}
	}
}
