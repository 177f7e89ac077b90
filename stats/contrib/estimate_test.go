package contrib

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sextant/stats/contrib/contribtest"
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

// The whole way from an event to the layers that stand beside the estimate: the
// mixed model to 1e-6 of 40-digit REML, least squares to 1e-9 of R's lm. The
// estimate itself, by another model of the same totals, is not far from it.
func TestEstimateReference(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"small", "medium", "early", "flat"} {
		t.Run(name, func(t *testing.T) {
			ev, ex := readEvent(t, name)
			fit := mustEstimate(t, ev.event(), Options{})
			mixed, err := NewBaseline(ev.event(), EstimatorMixed)
			if err != nil {
				t.Fatal(err)
			}
			want := ex.High.Score
			for i, e := range fit.Record().Teams {
				mean, sd := want.Fixed.Mu/3, want.Fixed.SE/3 // robots that do not differ
				if want.Contribution != nil {
					mean, sd = want.Contribution[i], want.ContributionSD[i]
				}
				near(t, "mixed mean", mixed.Mean(i), mean)
				near(t, "mixed sd", mixed.sd(i), sd)
				if name != "flat" && math.Abs(e.Points-mean) > 2*e.SD {
					t.Errorf("team %s: the estimate is %.1f ± %.1f, the mixed model %.1f", e.Team, e.Points, e.SD, mean)
				}

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
			near(t, "robot variance", mixed.tau2, want.Variance["robot"])
			near(t, "match variance", mixed.MatchVariance(0, 1, 2), want.Variance["residual"])
			near(t, "log likelihood", -2*mixed.logLik, want.Criterion)
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

// Points that no record shows (a bonus, a human player) are an alliance's rest,
// as far as records can tell, and forecasts have them in any case.
func TestEstimateRest(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(17, 3)), contribtest.Options{Robots: 24, Matches: 40, Watched: 0.9, Noise: 1})
	plain := mustEstimate(t, w.Event, Options{})
	ev := clone(w.Event)
	const bonus = 15.0
	for i := range ev.Matches {
		for _, c := range []record.Colour{record.Red, record.Blue} {
			a := ev.Matches[i].Side(c)
			a.Result = &record.Result{Score: a.Result.Score + bonus, FromFouls: a.Result.FromFouls}
		}
	}
	got := mustEstimate(t, ev, Options{})
	rest, robots := got.Rest(3)-plain.Rest(3), 3*(meanOf(got.Record())-meanOf(plain.Record()))
	if math.Abs(rest+robots-bonus) > 1 {
		t.Errorf("the rest has %.2f points more and robots have %.2f, want %v together", rest, robots, bonus)
	}
	if rest < robots {
		t.Errorf("the rest has %.2f points more, robots %.2f: most of it is no robot's", rest, robots)
	}
}

// Whoever sorts the list that Record gave sorts its own: who looks a robot up by
// its index afterwards still finds that robot.
func TestRecordIsTheCallers(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(21, 1)), contribtest.Options{Robots: 12, Matches: 20})
	fit := mustEstimate(t, w.Event, Options{})
	slices.Reverse(fit.Record().Teams)
	for i, e := range fit.Record().Teams {
		if at, ok := fit.Index(e.Team); !ok || at != i {
			t.Errorf("place %d has %s, whose index is %d", i, e.Team, at)
		}
	}
}

// The noise of a match follows the strength of the robots, and the luck of
// partners that records do not show apart is nearly independent.
func TestMatchVariance(t *testing.T) {
	t.Parallel()
	w := contribtest.New(rand.New(rand.NewPCG(18, 3)), contribtest.Options{Robots: 24, Matches: 40})
	fit := mustEstimate(t, w.Event, Options{})
	teams := fit.Record().Teams
	var sum float64
	for i := range teams {
		sum += fit.MatchVariance(i) / float64(len(teams))
		for j := range teams {
			if teams[i].Working > 1.5*teams[j].Working && fit.MatchVariance(i) < 1.2*fit.MatchVariance(j) {
				t.Errorf("strength %.1f and %.1f, variance %.1f and %.1f", teams[i].Working, teams[j].Working, fit.MatchVariance(i), fit.MatchVariance(j))
			}
		}
	}
	mixed, err := NewBaseline(w.Event, EstimatorMixed)
	if err != nil {
		t.Fatal(err)
	}
	if want := mixed.MatchVariance(0); sum < 0.6*want || sum > 1.6*want {
		t.Errorf("mean variance of a robot's match %.2f, by the mixed model %.2f", sum, want)
	}
	three := fit.MatchVariance(0) + fit.MatchVariance(1) + fit.MatchVariance(2)
	if got := fit.MatchVariance(0, 1, 2); got < 0.5*three || got > 1.5*three {
		t.Errorf("%v together, %v apart", got, three)
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
			if g, w := got.Teams[3].NowSD, want.Teams[3].NowSD; g < 1.1*w {
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
		// Two robots apart: the common level is out of it, the widening is in.
		fit := mustEstimate(t, only, Options{Prior: &prior})
		apart := fit.Cov(0, 0) + fit.Cov(1, 1) - 2*fit.Cov(0, 1)
		widened := 2 * square(0.25*meanOf(prior))
		if least := square(prior.Teams[0].NowSD) + square(prior.Teams[1].NowSD) + widened; apart < least {
			t.Errorf("variance of the difference of two robots %.2f, want at least %.2f", apart, least)
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

func meanOf(e record.Estimate) (m float64) {
	for _, x := range e.Teams {
		m += x.Working / float64(len(e.Teams))
	}
	return m
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
				off := e.Points - w.Strength[i]
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
