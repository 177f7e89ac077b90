package forecast

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

func TestWhatIf(t *testing.T) {
	t.Parallel()
	ev := contribtest.New(rand.New(rand.NewPCG(5, 1)), contribtest.Options{Robots: 18, Matches: 48, Watched: 0.95, Noise: 1}).Event
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := simulate.New(fit)
	m := &ev.Matches[7]
	r, b := m.Red.Teams, m.Blue.Teams
	mean := func(team record.TeamID) float64 {
		i, _ := fit.Index(team)
		return fit.Mean(i)
	}
	var out []record.TeamID // who does not play, the best first
	for _, team := range fit.Teams() {
		if !slices.Contains(r, team) && !slices.Contains(b, team) {
			out = append(out, team)
		}
	}
	// What the change makes of the expected scores, of red and of blue, by hand.
	for name, c := range map[string]struct {
		change    Change
		red, blue float64
	}{
		"Nothing":   {Change{}, 0, 0},
		"Replace":   {Change{Replace: []Swap{{r[1], out[0]}}}, mean(out[0]) - mean(r[1]), 0},
		"Exchange":  {Change{Replace: []Swap{{r[1], b[2]}}}, mean(b[2]) - mean(r[1]), mean(r[1]) - mean(b[2])},
		"Within":    {Change{Replace: []Swap{{r[1], r[2]}}}, 0, 0},
		"Stop":      {Change{Stop: []record.TeamID{b[0]}}, 0, -mean(b[0])},
		"Defend":    {Change{Defend: []Defence{{r[0], b[1], 0.4, 0.5}}}, -0.5 * mean(r[0]), -0.4 * mean(b[1])},
		"Feed":      {Change{Feed: []Feeding{{r[0], r[1], 0.4, 0.5}}}, 0.4*mean(r[1]) - 0.5*mean(r[0]), 0},
		"Newcomer":  {Change{Replace: []Swap{{r[0], out[1]}}, Stop: []record.TeamID{out[1]}}, -mean(r[0]), 0},
		"TwoChange": {Change{Replace: []Swap{{r[0], out[0]}, {r[1], out[1]}}}, mean(out[0]) + mean(out[1]) - mean(r[0]) - mean(r[1]), 0},
	} {
		before, after, err := WhatIf(e, fit, m, &c.change, 4000)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		plain, err := Match(fit, m)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(before.Forecast.Red.Mean-plain.Red.Mean+before.Red.Capped) > 1e-9 {
			t.Errorf("%s: before, red is %v, plainly %v less %v", name, before.Forecast.Red.Mean, plain.Red.Mean, before.Red.Capped)
		}
		red := after.Forecast.Red.Mean + after.Red.Capped - before.Forecast.Red.Mean - before.Red.Capped
		blue := after.Forecast.Blue.Mean + after.Blue.Capped - before.Forecast.Blue.Mean - before.Blue.Capped
		if math.Abs(red-c.red) > 1e-9 || math.Abs(blue-c.blue) > 1e-9 {
			t.Errorf("%s: red %+.3f and blue %+.3f, want %+.3f and %+.3f", name, red, blue, c.red, c.blue)
		}
		// What was drawn moves as the closed form does.
		median := func(d *Distribution) float64 { return d.Quantiles[quantiles/2] }
		if moved := median(&after.Red) - median(&before.Red); math.Abs(moved-c.red) > 3+0.1*math.Abs(c.red) {
			t.Errorf("%s: red's median moves by %.1f, its mean by %.1f", name, moved, c.red)
		}
		if !slices.IsSorted(after.Blue.Quantiles) || len(after.Blue.Quantiles) != quantiles {
			t.Errorf("%s: quantiles %v", name, after.Blue.Quantiles)
		}
		if lift := after.Forecast.Chance.Red - before.Forecast.Chance.Red; lift*(c.red-c.blue) < 0 {
			t.Errorf("%s: red's chance moves by %v", name, lift)
		}
		if name == "Nothing" {
			if diff := cmp.Diff(before, after); diff != "" {
				t.Error(diff)
			}
		}
	}
	if d, err := Drawing(e, fit, m, 4000); err != nil || len(d.Red.Quantiles) != quantiles {
		t.Errorf("%+v, %v", d, err)
	}
}

func TestWhatIfRefuses(t *testing.T) {
	t.Parallel()
	ev := contribtest.New(rand.New(rand.NewPCG(5, 2)), contribtest.Options{Robots: 12, Matches: 20, Watched: 1, Noise: 1}).Event
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	e, m := simulate.New(fit), &ev.Matches[0]
	r, b := m.Red.Teams, m.Blue.Teams
	for field, c := range map[string]Change{
		"/replace/0/in":     {Replace: []Swap{{r[0], "9"}}},
		"/replace/1/in":     {Replace: []Swap{{r[1], b[1]}, {r[0], r[0]}}},
		"/replace/0/out":    {Replace: []Swap{{"9", r[0]}}},
		"/stop/1":           {Stop: []record.TeamID{r[0], "9"}},
		"/defend/0/team":    {Defend: []Defence{{"9", r[0], 0.2, 1}}},
		"/defend/0/against": {Defend: []Defence{{r[1], r[0], 0.2, 1}}},
		"/defend/0/loss":    {Defend: []Defence{{r[1], b[0], 0.61, 1}}},
		"/defend/0/keeps":   {Defend: []Defence{{r[1], b[0], 0.6, math.NaN()}}},
		"/feed/0/team":      {Feed: []Feeding{{"9", r[0], 0.2, 1}}},
		"/feed/1/to":        {Feed: []Feeding{{r[1], r[0], 0.2, 1}, {r[1], b[0], 0.2, 1}}},
		"/feed/0/to":        {Feed: []Feeding{{r[1], r[1], 0.2, 1}}},
		"/feed/0/gain":      {Feed: []Feeding{{r[1], r[0], 1.1, 1}}},
		"/feed/0/keeps":     {Feed: []Feeding{{r[1], r[0], 0.2, -0.1}}},
	} {
		var bad *ChangeError
		if _, _, err := WhatIf(e, fit, m, &c, 10); !errors.As(err, &bad) || bad.Field != field {
			t.Errorf("%s: %v", field, err)
		}
	}
}
