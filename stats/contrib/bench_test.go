package contrib_test

import (
	"math/rand/v2"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

// weekend is an event of the size that the program must be quick for.
func weekend(watched float64) *record.Event {
	return contribtest.New(rand.New(rand.NewPCG(1, 7)), contribtest.Options{
		Robots: 60, Matches: 120, Watched: watched, Twice: 0.05, Blank: 0.02, Noise: 1, Fouls: true, Stops: true,
	}).Event
}

func BenchmarkEstimate(b *testing.B) {
	for _, c := range []struct {
		name    string
		watched float64
		keep    bool
	}{{"Totals", 0, false}, {"Records", 0.95, false}, {"RecordsKeepComponents", 0.95, true}} {
		b.Run(c.name, func(b *testing.B) {
			ev := weekend(c.watched)
			var opt contrib.Options
			if c.keep {
				fit, err := contrib.Estimate(ev, opt)
				if err != nil {
					b.Fatal(err)
				}
				kept := fit.Components()
				opt.Components = &kept
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := contrib.Estimate(ev, opt); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
