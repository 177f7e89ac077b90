package study

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/standings"
)

// SeededOptions of a study of who will be a captain.
type SeededOptions struct {
	Seeds, First int // seeds First, First+1, …
	Events       generate.Options
	Hidden       float64 // share of the matches, the last ones, that is not known
	Runs         int     // of the rest of the event
	// World invents the event of a seed, of the game that is asked for; nil: the
	// generator does, as Events says.
	World func(seed int) (World, error)
}

// World is an event that is known to its end.
type World interface {
	Matches() int              // how many there are
	Event(n int) *record.Event // what is known after n of them; it is the caller's
}

// Seeded has mean squared errors (Brier scores) of the chance to be a captain,
// over robots and events.
type Seeded struct {
	Events   int     `json:"events"`
	First    int     `json:"first"` // seed
	Forecast float64 `json:"forecast"`
	// Naive says 1 of those that are captains in the order as it is, 0 of others.
	Naive float64 `json:"naive"`
	// Ratio is Forecast to Naive. Its standard error is from event to event, both
	// figures of an event taken together (delta method).
	Ratio   float64 `json:"ratio"`
	RatioSE float64 `json:"ratio_se"`
	// Smoothed is a logistic curve over places now, with the width that suits
	// these very events best: nobody could know it before.
	Smoothed float64 `json:"smoothed"`
	Width    float64 `json:"width"` // of that curve, in places
}

// SeededBy measures forecasts of the captains on invented events.
func SeededBy(ctx context.Context, g *game.Game, opt SeededOptions) (*Seeded, error) {
	if opt.Seeds < 2 || g.Selection == nil || opt.World == nil && opt.Events.Teams <= g.Selection.Alliances {
		return nil, fmt.Errorf("a study of captains needs at least two seeds, a game with a selection and more teams than alliances")
	}
	if opt.World == nil {
		opt.World = func(seed int) (World, error) {
			return generate.New(g, rand.New(rand.NewPCG(uint64(seed), 0)), opt.Events)
		}
	}
	out := &Seeded{Events: opt.Seeds, First: opt.First}
	captains := g.Selection.Alliances
	var places, truth []float64
	var forecasts, naives []float64 // by event
	for seed := opt.First; seed < opt.First+opt.Seeds; seed++ {
		w, err := opt.World(seed)
		if err != nil {
			return nil, err
		}
		end := map[string]bool{}
		for _, p := range standings.Current(w.Event(w.Matches()))[:captains] {
			end[string(p.Team)] = true
		}
		ev := w.Event(int(math.Round((1 - opt.Hidden) * float64(w.Matches()))))
		fit, err := contrib.Estimate(ev, contrib.Options{})
		if err != nil {
			return nil, fmt.Errorf("seed %d: %w", seed, err)
		}
		o, err := standings.Forecast(ctx, ev, fit, standings.Options{Runs: opt.Runs, Seed: 1})
		if err != nil {
			return nil, fmt.Errorf("seed %d: %w", seed, err)
		}
		n := float64(len(o.Teams))
		var forecast, naive float64
		for _, t := range o.Teams {
			forecast += square(t.Seeded-is(end[string(t.Team)])) / n
		}
		for i, p := range standings.Current(ev) {
			was := is(end[string(p.Team)])
			naive += square(is(i < captains)-was) / n
			places, truth = append(places, float64(i+1)), append(truth, was)
		}
		forecasts, naives = append(forecasts, forecast), append(naives, naive)
	}
	out.Forecast, out.Naive = stat.Mean(forecasts, nil), stat.Mean(naives, nil)
	out.Ratio = out.Forecast / out.Naive
	apart := make([]float64, len(naives))
	floats.AddScaledTo(apart, forecasts, -out.Ratio, naives)
	out.RatioSE = stat.StdErr(stat.StdDev(apart, nil), float64(len(apart))) / out.Naive
	out.Smoothed = math.Inf(1)
	for width := 0.25; width <= 12; width += 0.25 {
		var brier float64
		for i := range places {
			p := 1 / (1 + math.Exp((places[i]-float64(captains)-0.5)/width))
			brier += square(p-truth[i]) / float64(len(places))
		}
		if brier < out.Smoothed {
			out.Smoothed, out.Width = brier, width
		}
	}
	return out, nil
}

func is(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}
