package generate

import (
	"math/rand/v2"
	"testing"
	"time"

	"sextant/stats/game"
)

// A scout that tires sees less after some matches without a break, as well as
// ever after one; another does not.
func TestTire(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := Defaults()
	opt.Tire, opt.Start = 0.5, time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	for _, scouts := range []int{6, 12} {
		opt.Scouts = scouts
		w, err := New(g, rand.New(rand.NewPCG(62, 0)), opt)
		if err != nil {
			t.Fatal(err)
		}
		longest := 0
		for i := range w.schedule {
			d := w.onDuty(i, 6)
			longest = max(longest, d)
			long := i > 0 && w.schedule[i].StartsAt.Sub(w.schedule[i-1].StartsAt) >= time.Hour
			if (i == 0 || long) && d != 0 {
				t.Errorf("%d scouts: %d matches on duty after a break, in match %d", scouts, d, i+1)
			}
		}
		if want := map[int]int{6: 47, 12: shift - 1}[scouts]; longest != want {
			t.Errorf("%d scouts: on duty for up to %d matches, want %d", scouts, longest, want)
		}
		told := 0
		for _, s := range w.Truth(2).Scouts {
			if s.Tires > 0 {
				told++
			}
		}
		tired := 0
		for i := range w.scouts {
			s := &w.scouts[i]
			if fresh := s.after(0); fresh != s {
				t.Error("tired without having watched")
			}
			late := s.after(7)
			if s.tires == 0 {
				if late != s {
					t.Error("tires, although not one of those who do")
				}
				continue
			}
			tired++
			if late.sees >= s.sees || late.lapses <= s.lapses || late.sees < 0.4 || late.slips > tireEnd*s.slips {
				t.Errorf("%+v after seven matches: %+v", s, late)
			}
		}
		if tired == 0 || tired == scouts || told != tired {
			t.Errorf("%d of %d scouts tire, %d are told", tired, scouts, told)
		}
	}
}
