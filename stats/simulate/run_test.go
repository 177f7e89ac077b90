package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
)

// counting counts what is taken from a source.
type counting struct {
	rand.Source
	taken int
}

func (c *counting) Uint64() uint64 {
	c.taken++
	return c.Source.Uint64()
}

// play draws one match in a world with a fresh source, and tells how much it took.
func play(e *Engine, world World, red, blue Lineup) (Outcome, int) {
	src := &counting{Source: rand.NewPCG(3, 4)}
	r := e.NewRun(rand.New(src))
	copy(r.World, world)
	o := *r.Play(&red, &blue)
	for s := range o.Sides {
		o.Sides[s].Robots = slices.Clone(o.Sides[s].Robots)
	}
	return o, src.taken
}

// Whoever plays, and whatever is assumed, the same numbers are taken from the
// source, and the other alliance and the partners have the same luck.
func TestPlayTakesTheSameNumbers(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.9} {
		e, _ := invented(t, 4, watched, nil)
		e.partners = 0 // else a partner's luck is part of one's own
		w := e.World(source(1))
		blue := Lineup{Robots: []int{3, 4, 5}}
		want, taken := play(e, w, Lineup{Robots: []int{0, 1, 2}}, blue)
		for name, red := range map[string]Lineup{
			"another": {Robots: []int{0, 1, 9}},
			"absent":  {Robots: []int{0, 1}},
			"stands":  {Robots: []int{0, 1, 2}, Share: []float64{math.NaN(), math.NaN(), 0}},
			"weaker":  {Robots: []int{0, 1, 2}, Scale: []float64{1, 1, 0.3}},
		} {
			got, n := play(e, w, red, blue)
			if n != taken {
				t.Errorf("watched %v, %s: %d numbers taken, else %d", watched, name, n, taken)
			}
			if got.Sides[1].Uncapped != want.Sides[1].Uncapped {
				t.Errorf("watched %v, %s: blue makes %v, else %v", watched, name, got.Sides[1].Uncapped, want.Sides[1].Uncapped)
			}
			if watched == 0 && !slices.Equal(got.Sides[0].Robots[:2], want.Sides[0].Robots[:2]) {
				t.Errorf("%s: partners make %v, else %v", name, got.Sides[0].Robots, want.Sides[0].Robots)
			}
		}
	}
}

// A run that plays many matches says in each what a fresh one says.
func TestRunIsUsedAgain(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.9} {
		e, _ := invented(t, 8, watched, nil)
		pcg := rand.NewPCG(0, 0)
		r := e.NewRun(rand.New(pcg))
		w := r.DrawWorld()
		for k, red := range []Lineup{{Robots: []int{0, 1, 2}}, {Robots: []int{7}}, {Robots: []int{4, 8, 6, 12}}, {Robots: []int{9, 8}}} {
			blue := Lineup{Robots: []int{20, 21, 22}}
			want, _ := play(e, w, red, blue)
			pcg.Seed(3, 4)
			if diff := cmp.Diff(want, *r.Play(&red, &blue)); diff != "" {
				t.Errorf("watched %v, match %d (-fresh +used):\n%s", watched, k, diff)
			}
		}
	}
}

// What is assumed of robots moves the mean as the closed form says.
func TestLineupsMoveTheMean(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.95} {
		e, _ := invented(t, 1, watched, uncapped)
		blue := Lineup{Robots: []int{11, 12, 20}}
		nan := math.NaN()
		for name, red := range map[string]Lineup{
			"two":     {Robots: []int{0, 3}},
			"factor":  {Robots: []int{0, 3, 7}, Factor: 1.2},
			"scale":   {Robots: []int{0, 3, 7}, Scale: []float64{1, 1.4, 1}},
			"full":    {Robots: []int{0, 3, 7}, Share: []float64{1, 1, 1}},
			"stopped": {Robots: []int{0, 3, 7}, Share: []float64{nan, 0, nan}},
		} {
			const runs = 6000
			mean, variance := e.Expected(&red)
			got := e.ForecastLineups(source(2), &red, &blue, runs).Red.Mean
			if math.Abs(got-mean) > 0.025*mean+4*math.Sqrt(variance/runs) {
				t.Errorf("watched %v, %s: drawn mean %.2f, closed form %.2f", watched, name, got, mean)
			}
		}
	}
}

// Worlds have the mean and the covariance of the estimate.
func TestWorlds(t *testing.T) {
	t.Parallel()
	e, fit := invented(t, 2, 0.8, nil)
	r := e.NewRun(source(5))
	const runs = 20000
	var mean, second [2]float64
	var cross float64
	for range runs {
		w := r.DrawWorld()
		a, b := w[2]-fit.Strength(2), w[9]-fit.Strength(9)
		mean[0], mean[1] = mean[0]+a/runs, mean[1]+b/runs
		second[0], second[1], cross = second[0]+a*a/runs, second[1]+b*b/runs, cross+a*b/runs
	}
	for k, i := range []int{2, 9} {
		v := fit.StrengthCov(i, i)
		if math.Abs(mean[k]) > 4*math.Sqrt(v/runs) || math.Abs(second[k]/v-1) > 4*math.Sqrt(2.0/runs) {
			t.Errorf("robot %d: mean off by %v, variance %v, want %v", i, mean[k], second[k], v)
		}
	}
	if want := fit.StrengthCov(2, 9); math.Abs(cross-want) > 4*math.Sqrt(second[0]*second[1]/runs) {
		t.Errorf("covariance %v, want %v", cross, want)
	}
}

func TestRunAllocatesNothing(t *testing.T) {
	for _, watched := range []float64{0, 0.9} {
		e, _ := invented(t, 8, watched, nil)
		r := e.NewRun(source(1))
		red, blue := &Lineup{Robots: []int{0, 1, 2}}, &Lineup{Robots: []int{3, 4, 5}}
		r.Play(red, blue)
		if n := testing.AllocsPerRun(100, func() { r.DrawWorld(); r.Play(red, blue) }); n != 0 {
			t.Errorf("watched %v: %v allocations, want none", watched, n)
		}
	}
}

// sized is an engine for an event of so many robots.
func sized(b *testing.B, teams int) *Engine {
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		b.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = teams, 12
	w, err := generate.New(g, source(1), opt)
	if err != nil {
		b.Fatal(err)
	}
	fit, err := contrib.Estimate(w.Event(w.Matches()/2), contrib.Options{})
	if err != nil {
		b.Fatal(err)
	}
	return New(fit)
}

// A match costs the same at any event; a world grows with the square of robots.
func BenchmarkDraw(b *testing.B) {
	for _, teams := range []int{24, 60, 120} {
		e := sized(b, teams)
		r := e.NewRun(source(1))
		red, blue := &Lineup{Robots: []int{0, 1, 2}}, &Lineup{Robots: []int{3, 4, 5}}
		b.Run(fmt.Sprintf("match/%d", teams), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r.Play(red, blue)
			}
		})
		b.Run(fmt.Sprintf("world/%d", teams), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				r.DrawWorld()
			}
		})
	}
}

// A forecast draws the robots that play and no others: 2000 draws of a match.
func BenchmarkForecast(b *testing.B) {
	for _, teams := range []int{24, 60, 120} {
		e := sized(b, teams)
		b.Run(fmt.Sprint(teams), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				e.Forecast(source(1), []int{0, 1, 2}, []int{3, 4, 5}, 2000)
			}
		})
	}
}
