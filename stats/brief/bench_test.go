package brief_test

import (
	"math/rand/v2"
	"testing"

	"sextant/stats/brief"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// BenchmarkNew is one brief of three robots, and of four of which one sits out.
func BenchmarkNew(b *testing.B) {
	w := inventedOf(b, "slackwater.json", generate.Slackwater(), 48, 12)
	m := &w.ev.Matches[7]
	for name, squad := range map[string][]record.TeamID{"Three": nil, "Four": append([]record.TeamID{"40148"}, m.Red.Teams...)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := brief.New(w.e, w.fit, w.ev, &brief.Request{Match: m, Ours: record.Red, Squad: squad}, rand.New(rand.NewPCG(1, 1))); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
