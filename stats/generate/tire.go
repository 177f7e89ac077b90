package generate

import "math/rand/v2"

// How fast a scout tires: after a shift of eight matches one of the slower is as
// careless as the careless, one of the faster counts little but the obvious.
// Plausible, not measured.
const (
	tireLeast, tireMost = 0.3, 0.8 // of all that goes wrong, more with each match
	tireEnd             = 6.0      // times as much goes wrong, at most
)

// tire lets a share of the scouts tire.
func (w *World) tire(rng *rand.Rand, firstDay int) {
	w.breaks = []int{0, firstDay / 2, firstDay}
	for i := range w.scouts {
		if rng.Float64() < w.opt.Tire {
			w.scouts[i].tires = tireLeast + (tireMost-tireLeast)*rng.Float64()
		}
	}
}

// onDuty is how many matches whoever watches match index by turn has watched
// before it without a break.
func (w *World) onDuty(index, seats int) int {
	since := 0
	for _, b := range w.breaks {
		if b <= index {
			since = index - b
		}
	}
	if len(w.scouts) > seats { // there is somebody to take over
		since = min(since, index%shift)
	}
	return since
}

// after is the scout after so many matches without a break.
func (s *scout) after(matches int) *scout {
	if s.tires == 0 || matches == 0 {
		return s
	}
	t := *s
	more := min(tireEnd, 1+s.tires*float64(matches))
	t.sees = max(0.4, 1-more*(1-s.sees))
	t.misses = max(0.2, 1-more*(1-s.misses))
	t.fouls = max(0.2, 1-more*(1-s.fouls))
	t.twice, t.lapses, t.slips = more*s.twice, more*s.lapses, more*s.slips
	return &t
}
