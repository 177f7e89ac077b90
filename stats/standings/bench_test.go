package standings

import (
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/forecast"
	"sextant/stats/simulate"
)

// BenchmarkForecast plays the last 40 % of an event 20,000 times.
func BenchmarkForecast(b *testing.B) {
	for _, size := range []struct {
		name  string
		teams int
	}{{"60", 60}, {"120", 120}} {
		ev, fit := invented(b, size.teams, 12, 3, 0.6, 0.95)
		b.Run(size.name, func(b *testing.B) {
			for b.Loop() {
				o, err := Forecast(b.Context(), ev, fit, Options{Runs: 20000, Seed: 1, Team: ev.Teams[5].ID})
				if err != nil {
					b.Fatal(err)
				}
				o.Goal(8)
			}
		})
		b.Run(size.name+"/all", func(b *testing.B) { // estimates and forecasts too
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
				if _, err := Forecast(b.Context(), ev, fit, Options{Runs: 20000, Seed: 1, Team: ev.Teams[5].ID}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
