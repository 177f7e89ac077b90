package check_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
)

// BenchmarkQueue is what one new record costs at an event of so many robots,
// 75 of them in 125 matches: a pass of the estimate with what it learned about
// noise kept, and the queue with all that goes with it.
func BenchmarkQueue(b *testing.B) {
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		b.Fatal(err)
	}
	for _, n := range []int{75, 150, 300} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			opt := generate.Defaults()
			opt.Teams, opt.MatchesPerTeam = n, 10
			w, err := generate.New(g, rand.New(rand.NewPCG(3, 9)), opt)
			if err != nil {
				b.Fatal(err)
			}
			ev := w.Event(w.Matches())
			fit, err := contrib.Estimate(ev, contrib.Options{})
			if err != nil {
				b.Fatal(err)
			}
			kept := fit.Components()
			b.ReportAllocs()
			for b.Loop() {
				fit, err := contrib.Estimate(ev, contrib.Options{Components: &kept})
				if err != nil {
					b.Fatal(err)
				}
				check.Look(ev, fit, check.Options{})
			}
		})
	}
	b.Run("Only/75", func(b *testing.B) {
		opt := generate.Defaults()
		opt.Teams, opt.MatchesPerTeam = 75, 10
		w, err := generate.New(g, rand.New(rand.NewPCG(3, 9)), opt)
		if err != nil {
			b.Fatal(err)
		}
		ev := w.Event(w.Matches())
		fit, err := contrib.Estimate(ev, contrib.Options{})
		if err != nil {
			b.Fatal(err)
		}
		for b.Loop() {
			check.Look(ev, fit, check.Options{})
		}
	})
}
