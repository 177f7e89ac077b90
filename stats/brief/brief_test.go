package brief_test

import (
	"cmp"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	diff "github.com/google/go-cmp/cmp"

	"sextant/stats/brief"
	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/forecast"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// world is an invented event and what is known of it.
type world struct {
	ev  *record.Event
	fit *contrib.Fit
	e   *simulate.Engine
}

func known(t testing.TB, ev *record.Event) *world {
	t.Helper()
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return &world{ev, fit, simulate.New(fit)}
}

// marbles has no caps, no ranking points and nothing to feed.
func marbles(t *testing.T) *world {
	t.Helper()
	return known(t, contribtest.New(rand.New(rand.NewPCG(5, 1)), contribtest.Options{Robots: 18, Matches: 48, Watched: 0.95, Noise: 1}).Event)
}

// invented is a generated event of a game file.
func invented(t testing.TB, name string, data []byte) *world {
	t.Helper()
	return inventedOf(t, name, data, 24, 8)
}

func inventedOf(t testing.TB, name string, data []byte, teams, matches int) *world {
	t.Helper()
	g, err := game.Load(name, data)
	if err != nil {
		t.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = teams, matches
	w, err := generate.New(g, rand.New(rand.NewPCG(11, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return known(t, w.Event(w.Matches()))
}

func file(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("../../testdata/games/" + name)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func (w *world) brief(t *testing.T, req *brief.Request) *brief.Brief {
	t.Helper()
	b, err := brief.New(w.e, w.fit, w.ev, req, rand.New(rand.NewPCG(3, 4)))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// changes are all that a brief may suggest, written down in another way: every
// robot in turn takes one of all jobs, and what the rules forbid is dropped.
func changes(ours, theirs []record.TeamID, feeding bool, a brief.Assume) []forecast.Change {
	type job struct{ by, against, to record.TeamID }
	lists := [][]job{{}}
	for _, by := range ours {
		all := []job{{by: by}}
		for _, t := range theirs {
			all = append(all, job{by: by, against: t})
		}
		for _, t := range ours {
			if feeding && t != by {
				all = append(all, job{by: by, to: t})
			}
		}
		var longer [][]job
		for _, l := range lists {
			for _, j := range all {
				longer = append(longer, append(slices.Clone(l), j))
			}
		}
		lists = longer
	}
	var out []forecast.Change
	for _, l := range lists {
		var c forecast.Change
		busy, met, fed, ok := map[record.TeamID]bool{}, map[record.TeamID]int{}, map[record.TeamID]int{}, true
		for _, j := range l {
			busy[j.by] = j.against != "" || j.to != ""
			if j.against != "" {
				met[j.against]++
				ok = ok && met[j.against] == 1
				c.Defend = append(c.Defend, forecast.Defence{Team: j.by, Against: j.against, Loss: a.Loss, Keeps: a.Keeps})
			}
			if j.to != "" {
				fed[j.to]++
				ok = ok && fed[j.to] == 1
				c.Feed = append(c.Feed, forecast.Feeding{Team: j.by, To: j.to, Gain: a.Gain, Keeps: a.Keeps})
			}
		}
		for t := range fed {
			ok = ok && !busy[t]
		}
		if ok {
			out = append(out, c)
		}
	}
	return out
}

// worth is what a change makes of the goal, drawn with other luck.
func (w *world) worth(t *testing.T, m *record.Match, ours record.Colour, goal brief.Goal, c *forecast.Change) float64 {
	t.Helper()
	sides, err := forecast.Lineups(w.fit, m, c)
	if err != nil {
		t.Fatal(err)
	}
	s := w.e.ForecastLineups(rand.New(rand.NewPCG(77, 78)), &sides[0], &sides[1], 2500)
	won, points := s.RedWins+s.Tie/2, s.Red.RankingPoints
	if ours == record.Blue {
		won, points = s.BlueWins+s.Tie/2, s.Blue.RankingPoints
	}
	if goal == brief.Win {
		return won
	}
	sum := 0.0
	for _, p := range w.e.Game().RankingPoints {
		sum += points[p.ID] * p.Points
	}
	return sum
}

func changeOf(b *brief.Brief) forecast.Change {
	var c forecast.Change
	for _, j := range b.Plan.Jobs {
		if j.Against != "" {
			c.Defend = append(c.Defend, forecast.Defence{Team: j.Team, Against: j.Against, Loss: b.Assume.Loss, Keeps: b.Assume.Keeps})
		}
		if j.To != "" {
			c.Feed = append(c.Feed, forecast.Feeding{Team: j.Team, To: j.To, Gain: b.Assume.Gain, Keeps: b.Assume.Keeps})
		}
	}
	return c
}

func TestPlanAgainstBruteForce(t *testing.T) {
	t.Parallel()
	plain, hand := marbles(t), invented(t, "saltern.json", file(t, "saltern.json"))
	for name, c := range map[string]struct {
		w       *world
		ours    record.Colour
		goal    brief.Goal
		assume  brief.Assume
		feeding bool
		tried   int // Σ over partial matchings, by hand; 0: not counted by hand
		jobs    int // robots with a job; −1: whatever
	}{
		"Free":      {plain, record.Red, brief.Win, brief.Assume{Loss: 0.6, Keeps: 1}, false, 34, 3},
		"FreeBlue":  {plain, record.Blue, brief.Win, brief.Assume{Loss: 0.6, Keeps: 1}, false, 34, 3},
		"ForNought": {plain, record.Red, brief.Win, brief.Assume{Keeps: 0.5}, false, 34, 0},
		"Usual":     {plain, record.Red, brief.Win, brief.Usual, false, 34, -1},
		"FedFree":   {hand, record.Blue, brief.Win, brief.Assume{Gain: 1, Keeps: 1}, true, 0, -1},
		"Points":    {hand, record.Red, brief.RankingPoints, brief.Assume{Loss: 0.5, Gain: 0.5, Keeps: 0.6}, true, 0, -1},
	} {
		m := &c.w.ev.Matches[7]
		b := c.w.brief(t, &brief.Request{Match: m, Ours: c.ours, Goal: c.goal, Assume: &c.assume})
		theirs := m.Blue.Teams
		if c.ours == record.Blue {
			theirs = m.Red.Teams
		}
		all := changes(m.Side(c.ours).Teams, theirs, c.feeding, c.assume)
		if b.Plan.Tried != len(all) || c.tried > 0 && c.tried != len(all) {
			t.Errorf("%s: %d assignments tried, by brute force %d, by hand %d", name, b.Plan.Tried, len(all), c.tried)
		}
		best := math.Inf(-1)
		for k := range all {
			best = math.Max(best, c.w.worth(t, m, c.ours, c.goal, &all[k]))
		}
		own := c.w.worth(t, m, c.ours, c.goal, &forecast.Change{})
		change := changeOf(b)
		got := c.w.worth(t, m, c.ours, c.goal, &change)
		gain := b.Plan.Win
		if c.goal == brief.RankingPoints {
			gain = b.Plan.RankingPoints
		}
		// Of 1500 draws the best is found to within about two of its standard
		// errors; those of common luck are below 0.02.
		if got < best-0.04 {
			t.Errorf("%s: the plan is worth %.3f, the best by brute force %.3f, without %.3f: %+v", name, got, best, own, b.Plan)
		}
		if math.Abs(gain.Gain-(got-own)) > 0.02+4*gain.SE {
			t.Errorf("%s: gain %.3f ± %.3f, by brute force %.3f", name, gain.Gain, gain.SE, got-own)
		}
		if n := len(change.Defend) + len(change.Feed); n > 0 && gain.Gain <= 2*gain.SE {
			t.Errorf("%s: suggested although it is not surely better: %+v", name, b.Plan)
		}
		if n := len(change.Defend) + len(change.Feed); c.jobs >= 0 && n != c.jobs {
			t.Errorf("%s: %d robots have a job: %+v", name, n, b.Plan)
		}
		if n := len(change.Feed); name == "FedFree" && n == 0 {
			t.Errorf("%s: nobody feeds: %+v", name, b.Plan)
		}
		if b.Plan.Why == "" {
			t.Errorf("%s: no reason", name)
		}
	}
}

// With few draws a lucky assignment is easily found; only what is surely better
// on other draws is suggested.
func TestOnlySureGainsAreSuggested(t *testing.T) {
	t.Parallel()
	w := marbles(t)
	suggested, left := 0, 0
	for k := range 24 {
		b := w.brief(t, &brief.Request{Match: &w.ev.Matches[k], Ours: record.Red, Goal: brief.Win, Assume: &brief.Assume{Loss: 0.3, Keeps: 0.8}, Runs: 60})
		if c := changeOf(b); len(c.Defend) == 0 {
			left++
		} else if suggested++; b.Plan.Win.Gain <= 2*b.Plan.Win.SE {
			t.Errorf("match %d: suggested for %.3f ± %.3f", k, b.Plan.Win.Gain, b.Plan.Win.SE)
		}
	}
	if suggested == 0 || left == 0 {
		t.Errorf("%d suggested, %d left alone: the events do not tell", suggested, left)
	}
}

// The numbers of a brief are those of the forecast and of a what-if.
func TestNumbersAreThoseOfTheForecast(t *testing.T) {
	t.Parallel()
	w := invented(t, "slackwater.json", generate.Slackwater())
	m := &w.ev.Matches[9]
	b := w.brief(t, &brief.Request{Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.6, Keeps: 1}})
	if b.Goal != brief.RankingPoints {
		t.Errorf("goal %q", b.Goal)
	}
	now, err := forecast.Drawing(w.e, w.fit, m, 4000)
	if err != nil {
		t.Fatal(err)
	}
	change := changeOf(b)
	if len(change.Defend) == 0 {
		t.Fatalf("no defence although it is free: %+v", b.Plan)
	}
	_, planned, err := forecast.WhatIf(w.e, w.fit, m, &change, 4000)
	if err != nil {
		t.Fatal(err)
	}
	if d := diff.Diff(now, b.Now) + diff.Diff(planned, b.Planned); d != "" {
		t.Error(d)
	}
	// The drawn gain is that of the closed form, which smooths the draws.
	closed := planned.Forecast.Chance.Red + planned.Forecast.Chance.Tie/2 - now.Forecast.Chance.Red - now.Forecast.Chance.Tie/2
	if math.Abs(closed-b.Plan.Win.Gain) > 0.04 {
		t.Errorf("gain %.3f, by the forecast %.3f", b.Plan.Win.Gain, closed)
	}
	if len(b.Defend) != 3 || b.Defend[0].RankingPoints.Gain < b.Defend[2].RankingPoints.Gain {
		t.Errorf("%+v", b.Defend)
	}
	for _, d := range b.Defend {
		c := forecast.Change{Defend: []forecast.Defence{{Team: d.By, Against: d.Team, Loss: 0.6, Keeps: 1}}}
		if got := w.worth(t, m, record.Red, brief.Win, &c) - w.worth(t, m, record.Red, brief.Win, &forecast.Change{}); math.Abs(got-d.Win.Gain) > 0.02+4*d.Win.SE {
			t.Errorf("%s defends against %s: %.3f ± %.3f, by brute force %.3f", d.By, d.Team, d.Win.Gain, d.Win.SE, got)
		}
	}
	// The same source gives the same brief.
	if d := diff.Diff(b, w.brief(t, &brief.Request{Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.6, Keeps: 1}})); d != "" {
		t.Error(d)
	}
}

func TestReach(t *testing.T) {
	t.Parallel()
	w := invented(t, "slackwater.json", generate.Slackwater())
	best := w.byMean() // the others gain too few ranking points to tell much
	m := &record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 99}, Red: record.Alliance{Teams: best[3:6]}, Blue: record.Alliance{Teams: best[:3]}}
	b := w.brief(t, &brief.Request{Match: m, Ours: record.Blue})
	told := 0
	if len(b.Reach) == 0 {
		t.Fatal("no ranking points")
	}
	for _, r := range b.Reach {
		p := b.Now.Forecast.RankingPoints[record.Blue][r.ID]
		if r.Chance == nil || *r.Chance != p || len(r.Needs) == 0 || r.Needs[0].Expected == nil || *r.Needs[0].Expected != b.Now.Blue.Components[r.Needs[0].Component] {
			t.Errorf("%s: %+v, the forecast says %v", r.ID, r, p)
		}
		if (r.WinWith == nil) != (p < 100.0/1500) && math.Abs(p-100.0/1500) > 0.03 {
			t.Errorf("%s: told from too few draws, or not told: %+v", r.ID, r)
		}
		if r.WinWith == nil || r.WinWithout == nil {
			continue
		}
		told++
		// The law of total probability, over other draws.
		all := b.Now.Forecast.Chance.Blue + b.Now.Forecast.Chance.Tie/2
		if got := p**r.WinWith + (1-p)**r.WinWithout; math.Abs(got-all) > 0.05 {
			t.Errorf("%s: %.3f in all, the forecast %.3f: %+v", r.ID, got, all, r)
		}
		if *r.WinWith <= *r.WinWithout {
			t.Errorf("%s: to gain it does not go with winning: %+v", r.ID, r)
		}
	}
	if told == 0 {
		t.Errorf("nothing told of winning: %+v", b.Reach)
	}
}

// A condition of alternatives is told as such, with values by name and what
// both alliances must do.
func TestNeeds(t *testing.T) {
	t.Parallel()
	w := invented(t, "stonefield.json", file(t, "stonefield.json"))
	b := w.brief(t, &brief.Request{Match: &w.ev.Matches[3], Ours: record.Red, Runs: 200})
	kinds := map[string]bool{}
	for _, r := range b.Reach {
		for _, n := range r.Needs {
			kinds["any"] = kinds["any"] || r.Any && n.Group > 0
			kinds["both"] = kinds["both"] || n.Both != ""
			kinds["at least"] = kinds["at least"] || n.AtLeast != nil && *n.AtLeast > 0
			if n.Component == "" && n.Both == "" {
				t.Errorf("%s: nothing needed: %+v", r.ID, n)
			}
		}
	}
	for _, k := range []string{"any", "both", "at least"} {
		if !kinds[k] {
			t.Errorf("no need of kind %q: %+v", k, b.Reach)
		}
	}
}

// byMean are the robots, the best first.
func (w *world) byMean() []record.TeamID {
	out := slices.Clone(w.fit.Teams())
	slices.SortFunc(out, func(a, b record.TeamID) int {
		i, _ := w.fit.Index(a)
		k, _ := w.fit.Index(b)
		return cmp.Compare(w.fit.Mean(k), w.fit.Mean(i))
	})
	return out
}

func TestLineups(t *testing.T) {
	t.Parallel()
	w := marbles(t)
	byMean := w.byMean()
	weak := byMean[len(byMean)-1]
	squad := []record.TeamID{byMean[4], weak, byMean[5], byMean[6]}
	m := &record.Match{ID: record.MatchID{Stage: record.PlayoffStage, Number: 3}, Play: 1, Blue: record.Alliance{Teams: byMean[:3]}}
	b := w.brief(t, &brief.Request{Match: m, Ours: record.Red, Squad: squad})
	if b.Goal != brief.Win {
		t.Errorf("goal %q", b.Goal)
	}
	if !slices.Equal(b.Out, []record.TeamID{weak}) || len(b.Lineups) != 4 || b.Plan.Tried != 4*34 {
		t.Fatalf("out %v, of %d line-ups and %d assignments", b.Out, len(b.Lineups), b.Plan.Tried)
	}
	if slices.Contains(b.Lineups[0].Teams, weak) || b.Lineups[0].Win.Gain != 0 {
		t.Errorf("the best line-up: %+v", b.Lineups[0])
	}
	for _, l := range b.Lineups[1:] {
		one := *m
		one.Red.Teams = l.Teams
		first := *m
		first.Red.Teams = b.Lineups[0].Teams
		want := w.worth(t, &one, record.Red, brief.Win, nil) - w.worth(t, &first, record.Red, brief.Win, nil)
		if math.Abs(want-l.Win.Gain) > 0.02+4*l.Win.SE || l.Win.Gain >= 0 {
			t.Errorf("%v: %.3f ± %.3f, by brute force %.3f", l.Teams, l.Win.Gain, l.Win.SE, want)
		}
	}
	if len(b.Red) != 3 || b.Red[0].Team != squad[0] || len(m.Red.Teams) != 0 {
		t.Errorf("who plays: %+v; the request has %v", b.Red, m.Red.Teams)
	}
}

func TestRefuses(t *testing.T) {
	t.Parallel()
	w := marbles(t)
	m := &w.ev.Matches[0]
	for name, r := range map[string]brief.Request{
		"Colour": {Match: m},
		"Goal":   {Match: m, Ours: record.Red, Goal: "glory"},
		"Few":    {Match: m, Ours: record.Red, Squad: m.Red.Teams[:2]},
		"Many":   {Match: m, Ours: record.Red, Squad: w.fit.Teams()[:6]},
		"Loss":   {Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.61}},
		"Gain":   {Match: m, Ours: record.Red, Assume: &brief.Assume{Gain: math.NaN()}},
		"Keeps":  {Match: m, Ours: record.Red, Assume: &brief.Assume{Keeps: 1.01}},
	} {
		if _, err := brief.New(w.e, w.fit, w.ev, &r, rand.New(rand.NewPCG(1, 1))); !errors.Is(err, brief.ErrRequest) {
			t.Errorf("%s: %v", name, err)
		}
	}
	twice := brief.Request{Match: m, Ours: record.Red, Squad: []record.TeamID{m.Blue.Teams[0], m.Red.Teams[0], m.Red.Teams[1]}}
	if _, err := brief.New(w.e, w.fit, w.ev, &twice, rand.New(rand.NewPCG(1, 1))); err == nil {
		t.Error("a robot plays on both sides")
	}
}

func TestFacts(t *testing.T) {
	t.Parallel()
	w := invented(t, "saltern.json", file(t, "saltern.json"))
	m := &w.ev.Matches[5]
	a, b2, c := m.Red.Teams[0], m.Red.Teams[1], m.Red.Teams[2]
	ev := *w.ev
	ev.Observations = slices.DeleteFunc(slices.Clone(ev.Observations), func(o record.Observation) bool { return slices.Contains(m.Red.Teams, o.Team) })
	saw := func(n int, t record.TeamID, scout, start string, guard float64, change func(*record.Observation)) {
		o := record.Observation{
			Match: record.MatchID{Stage: record.Qualification, Number: n}, Team: t, Scout: scout,
			Answers: map[string]game.Answer{"berth": {Text: &start}, "guard": {Number: &guard}},
		}
		if change != nil {
			change(&o)
		}
		ev.Observations = append(ev.Observations, o)
	}
	saw(1, a, "s1", "right", 0, nil)
	saw(1, a, "s2", "left", 40, nil) // a second scout of the same match adds nothing
	saw(2, a, "s1", "right", 12, nil)
	saw(3, a, "s1", "right", 30, nil)
	saw(4, a, "s1", "left", 9, nil)
	saw(5, a, "s1", "left", 100, func(o *record.Observation) { o.Discarded = true })
	saw(6, a, "s1", "left", 100, func(o *record.Observation) { o.Absent = true })
	saw(7, b2, "s1", "left", 0, func(o *record.Observation) { delete(o.Answers, "guard") })
	saw(8, b2, "s1", "right", 0, func(o *record.Observation) { delete(o.Answers, "guard") })
	// c and a meet where c mostly starts, though a mostly starts elsewhere.
	saw(8, c, "s1", "right", 0, nil)
	for n := 9; n < 18; n++ {
		saw(n, c, "s1", "left", 0, nil)
	}
	b, err := brief.New(w.e, w.fit, &ev, &brief.Request{Match: m, Ours: record.Red, Runs: 100}, rand.New(rand.NewPCG(1, 1)))
	if err != nil {
		t.Fatal(err)
	}
	first := b.Red[0]
	if d := diff.Diff([]brief.Start{{Place: "right", Share: 0.75, Seen: 3}, {Place: "left", Share: 0.25, Seen: 1}}, first.Starts); d != "" {
		t.Error(d)
	}
	if d := diff.Diff(&brief.Defence{Seen: 4, Matches: 2, Seconds: 21}, first.Defence); d != "" {
		t.Error(d)
	}
	if b.Red[1].Defence != nil {
		t.Errorf("nobody asked, and yet: %+v", b.Red[1].Defence)
	}
	var starts []brief.Clash
	for _, x := range b.Clashes {
		if x.Kind == "start" {
			starts = append(starts, x)
		}
	}
	free := []string{"middle"}
	if d := diff.Diff([]brief.Clash{
		{Kind: "start", Teams: []record.TeamID{a, b2}, Place: "right", Chance: 0.375, Free: free},
		{Kind: "start", Teams: []record.TeamID{a, c}, Place: "left", Chance: 0.225, Free: free},
		{Kind: "start", Teams: []record.TeamID{b2, c}, Place: "left", Chance: 0.45, Free: free},
	}, starts); d != "" {
		t.Error(d)
	}
	// The estimate is what the robot's own screen says.
	i, _ := w.fit.Index(a)
	est := w.fit.Record().Teams[i]
	if first.Now != est.Now || first.NowSD != est.NowSD || first.Stops != est.Stops || len(first.Best) == 0 {
		t.Errorf("%+v, the estimate %+v", first, est)
	}
	for k, d := range first.Best {
		key := d.Action
		if d.Option != "" {
			key += ":" + d.Option
		}
		e := est.Actions[key]
		// 1.2816 is the 90 % quantile of the normal law, from tables.
		if d.Mean != e.Mean || math.Abs(d.High-d.Mean-1.2816*e.SD) > 1e-4 && d.High != 1 || d.Low < 0 {
			t.Errorf("%s: %+v, the estimate %+v", key, d, e)
		}
		if k > 0 && d.Points > first.Best[k-1].Points {
			t.Errorf("not in order of points: %+v", first.Best)
		}
	}
}

// Where only so much counts, three robots that make more of it clash, and who
// cannot add to it defends. The events are the same but for the cap.
func TestCapsFreeHands(t *testing.T) {
	t.Parallel()
	// Only three of all high marbles count: the three robots that make most of
	// them have hands free, while low marbles and parking still count.
	plan := func(limit float64) *brief.Brief {
		ev := contribtest.New(rand.New(rand.NewPCG(8, 1)), contribtest.Options{Robots: 18, Matches: 60, Watched: 1}).Event
		high, _ := ev.Game.Action("high")
		high.AllianceMax = &limit
		for i := range ev.Matches { // scouts make no mistakes here, so they tell what the cap takes off
			m := &ev.Matches[i]
			for _, a := range []*record.Alliance{&m.Red, &m.Blue} {
				n := 0.0
				for _, o := range ev.Observations {
					if o.Match == m.ID && slices.Contains(a.Teams, o.Team) {
						n += *o.Counts["high"].Made
					}
				}
				a.Result.Score -= high.Points * math.Max(0, n-limit)
			}
		}
		w := known(t, ev)
		makes := w.fit.Record().Teams
		slices.SortFunc(makes, func(a, b record.TeamEstimate) int { return cmp.Compare(b.Actions["high"].Mean, a.Actions["high"].Mean) })
		side := func(from int) record.Alliance {
			return record.Alliance{Teams: []record.TeamID{makes[from].Team, makes[from+1].Team, makes[from+2].Team}}
		}
		m := &record.Match{ID: record.MatchID{Stage: record.Final, Number: 1}, Red: side(0), Blue: side(12)}
		return w.brief(t, &brief.Request{Match: m, Ours: record.Red, Assume: &brief.Assume{Loss: 0.3, Keeps: 0.6}})
	}
	capped, free := plan(3), plan(1000)
	if c := changeOf(capped); len(c.Defend) == 0 || capped.Plan.Win.Gain < 2*capped.Plan.Win.SE {
		t.Errorf("nobody defends although points are lost to the cap: %+v", capped.Plan)
	}
	if i := slices.IndexFunc(capped.Clashes, func(c brief.Clash) bool { return c.Kind == "cap" && c.Max == 3 }); i < 0 || capped.Clashes[i].Expected <= 3 || len(capped.Clashes[i].Teams) != 3 {
		t.Errorf("no clash over the cap: %+v", capped.Clashes)
	}
	if len(free.Clashes) != 0 {
		t.Errorf("a clash where there is room for all: %+v", free.Clashes)
	}
}
