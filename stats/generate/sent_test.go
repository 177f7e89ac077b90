package generate

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"sextant/stats/game"
)

// The same scout sent to the same robot writes the same, whoever else watches,
// and what is written is about what the robot did in the match that is played.
func TestWatchIsTheSameForAll(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Scouts, opt.Watched, opt.Mistakes, opt.Careless, opt.Double = 6, 1, 0, 0, 0
	w, err := New(g, rand.New(rand.NewPCG(41, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		m, turn := w.Play(i)
		some, err := w.Watch(i, Sent{"s02": m.Red.Teams[1], "s05": m.Blue.Teams[0]})
		if err != nil {
			t.Fatal(err)
		}
		more, err := w.Watch(i, Sent{"s02": m.Red.Teams[1], "s05": m.Blue.Teams[0], "s01": m.Red.Teams[1]})
		if err != nil {
			t.Fatal(err)
		}
		if len(some) != 2 || len(more) != 3 || !reflect.DeepEqual(some, more[1:]) {
			t.Fatalf("%s: %d and %d records, or they differ", m.ID, len(some), len(more))
		}
		// Without mistakes everybody counts the same, sent or by turn.
		for _, o := range turn {
			if o.Team == some[0].Team && !reflect.DeepEqual(o.Counts, some[0].Counts) {
				t.Errorf("%s: %s counted %v, by turn %v", m.ID, o.Team, some[0].Counts, o.Counts)
			}
		}
	}
	m := w.Schedule()[0]
	for name, sent := range map[string]Sent{"robot": {"s01": "1"}, "scout": {"s99": m.Red.Teams[0]}} {
		if _, err := w.Watch(0, sent); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
