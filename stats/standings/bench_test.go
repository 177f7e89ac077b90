package standings

import (
	"fmt"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/simulate"
)

// BenchmarkForecast plays the last 40 % of an event 20,000 times (runs), and
// that with the estimates and all forecasts before it (all), as the server does
// after each change.
func BenchmarkForecast(b *testing.B) {
	for _, teams := range []int{60, 120} {
		ev, fit := invented(b, teams, 12, 3, 0.6, 0.95)
		play := func(b *testing.B, fit *contrib.Fit) {
			o, err := Forecast(b.Context(), ev, fit, Options{Runs: 20000, Seed: 1, Team: ev.Teams[5].ID})
			if err != nil {
				b.Fatal(err)
			}
			o.Goal(8)
		}
		b.Run(fmt.Sprintf("runs/%d", teams), func(b *testing.B) {
			for b.Loop() {
				play(b, fit)
			}
		})
		b.Run(fmt.Sprintf("all/%d", teams), func(b *testing.B) {
			for b.Loop() {
				fit, err := contrib.Estimate(ev, contrib.Options{})
				if err != nil {
					b.Fatal(err)
				}
				fit.Record()
				e := simulate.New(fit)
				for i := range ev.Matches {
					if m := &ev.Matches[i]; !m.Played() {
						if _, err := forecast.Drawn(e, fit, m, forecast.Source(m.ID), 2000); err != nil {
							b.Fatal(err)
						}
					}
				}
				play(b, fit)
			}
		})
	}
}
