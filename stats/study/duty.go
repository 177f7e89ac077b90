package study

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// DutyOptions of a study of scouts that tire.
type DutyOptions struct {
	Seeds, First int
	Events       generate.Options // with Tire and a Start
}

// DutyReport is what came out; a scout's day is told if it was told after any
// match of it.
type DutyReport struct {
	Events int        `json:"events"`
	First  int        `json:"first"` // seed
	Tired  int        `json:"tired"` // days of scouts that tire
	Found  Difference `json:"found"` // share of them that were told
	Fresh  int        `json:"fresh"` // days of the others
	False  Difference `json:"false"` // share of them that were told
	// After is how many matches without a break the scout had watched when it was
	// first told on a day, mean of the found.
	After float64 `json:"after"`
	// Limits has, for each limit of the trend, what would be told.
	Limits []DutyLimit `json:"limits" nullable:"false"`
}

// DutyLimit is what another limit of the trend would give.
type DutyLimit struct {
	Limit float64 `json:"limit"`
	Found float64 `json:"found"`
	False float64 `json:"false"`
}

// dutyDay is a scout's day.
type dutyDay struct {
	tires bool
	best  float64 // greatest trend while on duty, −∞: never one
	after int     // matches without a break when first told, 0: not told
}

// Duties measures how many scouts that tire are told from those that do not, on
// days that are looked at after every match. What an estimate learns about noise
// is held from the first quarter of the event on, so that no look knows more than
// its day.
func Duties(g *game.Game, opt DutyOptions) (*DutyReport, error) {
	if opt.Seeds < 1 || opt.Events.Start.IsZero() {
		return nil, errors.New("a study of duty needs one seed or more, and events with a start")
	}
	out := &DutyReport{Events: opt.Seeds, First: opt.First, Limits: []DutyLimit{}}
	var days []dutyDay
	for seed := opt.First; seed < opt.First+opt.Seeds; seed++ {
		w, err := generate.New(g, rand.New(rand.NewPCG(uint64(seed), 0)), opt.Events)
		if err != nil {
			return nil, err
		}
		one, err := dutyDays(w)
		if err != nil {
			return nil, fmt.Errorf("seed %d: %w", seed, err)
		}
		days = append(days, one...)
	}
	told := func(tires bool, limit float64) (n int, share Difference) {
		var x []float64
		for _, d := range days {
			if d.tires == tires {
				x = append(x, count(d.best >= limit))
			}
		}
		return len(x), meanOf(x)
	}
	out.Tired, out.Found = told(true, check.TrendLimit)
	out.Fresh, out.False = told(false, check.TrendLimit)
	var found float64
	for _, d := range days {
		if d.tires && d.after > 0 {
			found++
			out.After += float64(d.after)
		}
	}
	out.After /= max(1, found)
	for limit := 1.6; limit < 3.3; limit += 0.2 {
		_, a := told(true, limit)
		_, b := told(false, limit)
		out.Limits = append(out.Limits, DutyLimit{limit, a.Mean, b.Mean})
	}
	return out, nil
}

// dutyDays are all scouts' days of an event, in order of scout and day.
func dutyDays(w *generate.World) ([]dutyDay, error) {
	early, err := contrib.Estimate(w.Event(w.Matches()/4), contrib.Options{})
	if err != nil {
		return nil, err
	}
	hold := early.Components()
	ev := w.Event(w.Matches())
	fit, err := contrib.Estimate(ev, contrib.Options{Components: &hold})
	if err != nil {
		return nil, err
	}
	starts := map[record.MatchID]string{}
	for i := range ev.Matches {
		starts[ev.Matches[i].ID] = ev.Matches[i].StartsAt.Format(time.DateOnly)
	}
	type key struct{ scout, day string }
	days := map[key]*dutyDay{}
	tires := map[string]bool{}
	for _, s := range w.Truth(2).Scouts {
		tires[s.Scout] = s.Tires > 0
	}
	apart := fit.Apart()
	for i := range apart {
		if i+1 < len(apart) && apart[i+1].Match == apart[i].Match {
			continue
		}
		for _, d := range check.Duties(ev, apart[:i+1]) {
			k := key{d.Scout, starts[apart[i].Match]}
			if days[k] == nil {
				days[k] = &dutyDay{tires: tires[d.Scout], best: math.Inf(-1)}
			}
			if d.Trend != nil && d.Matches >= check.LeastDuty {
				days[k].best = max(days[k].best, *d.Trend)
			}
			if d.Less && days[k].after == 0 {
				days[k].after = d.Matches
			}
		}
	}
	var out []dutyDay
	for _, k := range slices.SortedFunc(maps.Keys(days), func(a, b key) int {
		return cmp.Or(cmp.Compare(a.scout, b.scout), cmp.Compare(a.day, b.day))
	}) {
		out = append(out, *days[k])
	}
	return out, nil
}
