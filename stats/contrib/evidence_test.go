package contrib

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/record"
)

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
	// What is not known of the share of matches that it has is in the sd.
	fit := mustEstimate(t, ev, Options{})
	if sure := fit.exposure.mean[4] * math.Sqrt(fit.fused.Now.Cov.At(4, 4)); e.NowSD < 1.03*sure {
		t.Errorf("now ± %.3f, were it sure how often it stops ± %.3f", e.NowSD, sure)
	}
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

// The venue says who was absent in every match, scouts what stopped in those
// that they watched: one absence in four matches is a quarter, watched or not.
func TestEstimateStopsOfMatchesNobodyWatched(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name    string
		watched int // of the matches that it played
		stood   float64
		want    func(matches float64) float64
	}{
		{"NoRecords", 0, 0, func(m float64) float64 { return 1 / m }},
		{"OneOfThemRan", 1, 0, func(m float64) float64 { return 1 / m }},
		{"OneOfThemStood", 1, 45, func(float64) float64 { return 1 }},
		{"HalfOfTwoStood", 2, 45, func(m float64) float64 { return (1 + (m-1)/2) / m }},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			w := contribtest.New(rand.New(rand.NewPCG(9, 9)), contribtest.Options{Robots: 18, Matches: 36})
			ev := clone(w.Event)
			team, matches, watched := ev.Teams[4].ID, 0.0, 0
			ev.Observations = nil
			for i := range ev.Matches {
				for _, a := range []*record.Alliance{&ev.Matches[i].Red, &ev.Matches[i].Blue} {
					if !slices.Contains(a.Teams, team) {
						continue
					}
					if matches++; matches == 1 {
						a.Absent = []record.TeamID{team}
						continue
					}
					if watched < tc.watched {
						o := observed(ev.Matches[i].ID.Number, team, number(1), number(1), "none")
						stood := tc.stood * float64(1-watched) // the second one that is watched ran
						o.Answers = map[string]game.Answer{"stood": {Number: &stood}}
						ev.Observations = append(ev.Observations, o)
						watched++
					}
				}
			}
			got, want := mustEstimate(t, ev, Options{}).Record().Teams[4].Stops, tc.want(matches)
			if math.Abs(got-want) > 1e-12 {
				t.Errorf("stops %v, want %v of %v matches", got, want, matches)
			}
		})
	}
}

func TestEstimateStopIsNotWeakness(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(19, 3)), contribtest.Options{Robots: 18, Matches: 36, Watched: 1})
	want := mustEstimate(t, w.Event, Options{}).Record().Teams[5]
	ev := clone(w.Event)
	team, stood, n := want.Team, 135.0, 0
	for i := range ev.Observations {
		o := &ev.Observations[i]
		if o.Team != team {
			continue
		}
		if n++; n%2 == 0 {
			continue
		}
		points := 4**o.Counts["high"].Made + 2**o.Counts["low"].Made + map[string]float64{"near": 3, "on": 10}[o.Choices["park"].Option]
		m := &ev.Matches[o.Match.Number-1]
		for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
			if slices.Contains(a.Teams, team) {
				a.Result = &record.Result{Score: a.Result.Score - points, FromFouls: a.Result.FromFouls}
			}
		}
		*o = observed(o.Match.Number, team, number(0), number(0), "none")
		o.Answers = map[string]game.Answer{"stood": {Number: &stood}}
	}
	got := mustEstimate(t, ev, Options{}).Record().Teams[5]
	if math.Abs(got.Working-want.Working) > 1.5*want.SD {
		t.Errorf("working %.1f, had it never stopped %.1f ± %.1f", got.Working, want.Working, want.SD)
	}
	if got.Now > 0.75*got.Working {
		t.Errorf("stopped every other match: now %.1f, working %.1f", got.Now, got.Working)
	}
}

func TestEstimateNoQuestionAboutStops(t *testing.T) {
	t.Parallel()
	ev := clone(watchedWorld(10).Event)
	g := contribtest.Game()
	g.Questions = nil
	ev.Game = g
	plays, absent := map[int]bool{}, false
	for i := range ev.Observations {
		o := &ev.Observations[i]
		o.Answers = nil
		if o.Team == ev.Teams[3].ID {
			if !absent {
				*o = record.Observation{Match: o.Match, Play: 1, Team: o.Team, Scout: o.Scout, Absent: true}
			}
			absent = true
			plays[o.Match.Number] = true
		}
	}
	seen := float64(len(plays))
	for i, e := range mustEstimate(t, ev, Options{}).Record().Teams {
		if i == 3 && math.Abs(e.Stops-1/seen) < 1e-12 {
			continue // was there in all but one of the matches that were watched
		}
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
	// Where only some alliances' fouls are published, the others' are about as many.
	half := clone(fouled)
	for i := range half.Matches {
		half.Matches[i].Red.Result = &record.Result{Score: half.Matches[i].Red.Result.Score}
	}
	part := mustEstimate(t, half, Options{}).Record()
	if got, was := meanOf(part), meanOf(want); math.Abs(got-was) > 0.3 {
		t.Errorf("mean contribution %.2f with half of the fouls published, %.2f with all", got, was)
	}
	if mean, variance := fit.Fouls(); math.Abs(mean-4) > 1e-9 || variance < 10 || variance > 20 {
		t.Errorf("fouls: mean %v, variance %v, want 4 and about 32/3", mean, variance)
	}
}

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
	if g, w := got.Fit.Components["scout_rate"], want.Fit.Components["scout_rate"]; g > 1.3*w {
		t.Errorf("records are off by %.2f, without the slip by %.2f", g, w)
	}
}
