package brief_test

import (
	"math/rand/v2"
	"testing"

	"sextant/stats/brief"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// BenchmarkNew is one brief of three robots, and of four of which one sits out.
func BenchmarkNew(b *testing.B) {
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		b.Fatal(err)
	}
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam = 48, 12
	w, err := generate.New(g, rand.New(rand.NewPCG(11, 0)), opt)
	if err != nil {
		b.Fatal(err)
	}
	ev := w.Event(w.Matches())
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		b.Fatal(err)
	}
	e := simulate.New(fit)
	m := &ev.Matches[7]
	for name, squad := range map[string][]record.TeamID{"Three": nil, "Four": append([]record.TeamID{"40148"}, m.Red.Teams...)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := brief.New(e, fit, ev, &brief.Request{Match: m, Ours: record.Red, Squad: squad}, rand.New(rand.NewPCG(1, 1))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
