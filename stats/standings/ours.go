package standings

import (
	"math/bits"
	"slices"

	"sextant/stats/record"
)

// Happening is something that may happen in a match to come: an outcome, or an
// alliance's ranking point that is not for the outcome.
type Happening struct {
	Match record.MatchID `json:"match"`
	// Outcome is red, blue or tie; empty: it is about a ranking point.
	Outcome      string        `json:"outcome,omitempty"`
	Alliance     record.Colour `json:"alliance,omitempty"`
	RankingPoint string        `json:"ranking_point,omitempty"` // its id
	// Ours: our robot plays for the alliance that wins or gains, or ties.
	Ours bool `json:"ours"`

	meeting, side, point int // point −1: an outcome
}

// The outcomes as conditions, in this order for each match.
const (
	redWins = iota
	blueWins
	tied
	outcomes
)

// prepare lists the conditions of all matches to come: three outcomes and two
// for each further ranking point.
func (o *Outlook) prepare() {
	b, runs := o.b, o.Runs
	for m := range b.rest {
		id := b.rest[m].match.ID
		var ours [2]bool
		for side := range 2 {
			for _, i := range b.rest[m].sides[side].counts {
				ours[side] = ours[side] || i == o.us
			}
		}
		o.what = append(o.what,
			Happening{Match: id, Outcome: string(record.Red), Ours: ours[0], meeting: m, side: 0, point: -1},
			Happening{Match: id, Outcome: string(record.Blue), Ours: ours[1], meeting: m, side: 1, point: -1},
			Happening{Match: id, Outcome: "tie", Ours: ours[0] || ours[1], meeting: m, side: -1, point: -1})
		for k := range b.g.RankingPoints {
			if b.g.RankingPoints[k].When.Outcome != "" {
				continue
			}
			for side, c := range []record.Colour{record.Red, record.Blue} {
				o.what = append(o.what, Happening{Match: id, Alliance: c, RankingPoint: b.g.RankingPoints[k].ID, Ours: ours[side], meeting: m, side: side, point: k})
			}
		}
	}
	words := (runs + 63) / 64
	o.rank, o.points = make([]uint16, runs), make([]float64, runs)
	for range o.what {
		o.bits = append(o.bits, make([]uint64, words))
		o.up, o.down = append(o.up, make([]int32, len(b.teams)+1)), append(o.down, make([]int32, len(b.teams)+1))
	}
}

// shift is a change of ranking points of both alliances of a match.
type shift [2]float64

// ours notes one run: what happened, where we ended, and, for every condition,
// where we would have ended had it gone the other way and all else as it was.
// Runs of one chunk share no word of bits with those of another.
func (w *worker) ours(run int) {
	o := w.o
	for k, i := range w.order {
		w.place[i] = k
	}
	rank := w.place[o.us] + 1
	o.rank[run] = uint16(rank)
	o.points[run] = w.total[o.us] - w.b.pointsPast[o.us]
	note := func(c int, holds bool, with, without int) {
		if holds {
			o.bits[c][run/64] |= 1 << (run % 64)
		}
		switch { // a goal of k is reached with and not without for k from with to without−1
		case with < without:
			w.up[c][with]++
			w.up[c][without]--
		case with > without:
			w.down[c][without]++
			w.down[c][with]--
		}
	}
	for c := 0; c < len(o.what); {
		m := o.what[c].meeting
		red, blue := &w.lines[2*m], &w.lines[2*m+1]
		drawn := tied
		if red.score > blue.score {
			drawn = redWins
		} else if blue.score > red.score {
			drawn = blueWins
		}
		var ranks [outcomes]int
		for e := range ranks {
			ranks[e] = rank
			if e != drawn {
				ranks[e] = w.otherwise(rank, m, w.outcome(e, red, blue))
			}
		}
		for e := range ranks {
			without := ranks[drawn]
			if e == drawn {
				without = ranks[[]int{blueWins, redWins, run % 2}[e]]
			}
			note(c+e, e == drawn, ranks[e], without)
		}
		for c += outcomes; c < len(o.what) && o.what[c].meeting == m; c++ {
			k, side := o.what[c].point, o.what[c].side
			var by shift
			has := w.lines[2*m+side].has(k)
			by[side] = w.value[k]
			if has {
				by[side] = -by[side]
			}
			other := w.otherwise(rank, m, by)
			if has {
				note(c, true, rank, other)
			} else {
				note(c, false, other, rank)
			}
		}
	}
}

// outcome is how the ranking points change when the match ends in e.
func (w *worker) outcome(e int, red, blue *line) (by shift) {
	for k := range w.b.g.RankingPoints {
		var one, two bool
		switch w.b.g.RankingPoints[k].When.Outcome {
		case "win":
			one, two = e == redWins, e == blueWins
		case "tie":
			one, two = e == tied, e == tied
		default:
			continue
		}
		by[0] += w.value[k] * (btof(one) - btof(red.has(k)))
		by[1] += w.value[k] * (btof(two) - btof(blue.has(k)))
	}
	return by
}

func btof(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// otherwise is our place when the robots of match m have by more ranking points.
// Nobody but them moves against the others, so the order as it was tells the rest.
func (w *worker) otherwise(rank, m int, by shift) int {
	if by == (shift{}) || w.byStep < 0 {
		return rank
	}
	us, own := w.o.us, 0.0
	for side := range 2 {
		if by[side] != 0 && slices.Contains(w.b.rest[m].sides[side].counts, us) {
			own = by[side]
		}
	}
	k := us*len(w.b.steps) + w.byStep
	was := w.key[k]
	at := rank - 1 // how many are before us as it was
	if own != 0 {
		w.key[k] = rounded((w.sum[k] + own) / w.n[k])
		rank = 1 + w.before(at, own)
	}
	for side := range 2 {
		for _, i := range w.b.rest[m].sides[side].counts {
			if i == us || by[side] == 0 {
				continue
			}
			first := w.place[i] < at
			if own != 0 {
				first = w.compare(i, us) < 0
			}
			// Who is before us stays so with more, who is behind with less.
			if first == (by[side] > 0) && own == 0 {
				continue
			}
			switch then := w.moved(i, by[side]); {
			case then && !first:
				rank++
			case first && !then:
				rank--
			}
		}
	}
	w.key[k] = was
	return rank
}

// before is how many robots are before ours, whose key has changed by own and
// who had at others before it: the order of the others still holds.
func (w *worker) before(at int, own float64) int {
	low, high := 0, at
	if own < 0 {
		low, high = at, len(w.order)-1
	}
	for low < high { // order[low:] without us, if it is among them
		middle := (low + high) / 2
		i := w.order[middle]
		if middle >= at {
			i = w.order[middle+1]
		}
		if w.compare(i, w.o.us) < 0 {
			low = middle + 1
		} else {
			high = middle
		}
	}
	return low
}

// moved reports whether i comes before us with so many more ranking points.
func (w *worker) moved(i int, more float64) bool {
	k := i*len(w.b.steps) + w.byStep
	was := w.key[k]
	w.key[k] = rounded((w.sum[k] + more) / w.n[k])
	first := w.compare(i, w.o.us) < 0
	w.key[k] = was
	return first
}

// runsIn counts the runs of a set.
func runsIn(set []uint64) (n int) {
	for _, w := range set {
		n += bits.OnesCount64(w)
	}
	return n
}

// runsInBoth counts the runs that two sets share.
func runsInBoth(a, b []uint64) (n int) {
	for k, w := range a {
		n += bits.OnesCount64(w & b[k])
	}
	return n
}
