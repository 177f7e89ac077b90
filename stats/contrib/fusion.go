package contrib

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sextant/stats/contrib/fused"
	"sextant/stats/game"
	"sextant/stats/record"
)

// This file turns evidence into the rows of package fused: the third layer,
// official totals and scouts' records together.

// How far a mark lets a robot change, in units of s (robots differ by 0.55):
// plausible, not measured.
var markSDs = map[string]float64{
	record.MarkChanged: 0.35, record.MarkRepaired: 0.25, record.MarkSubstitute: 0.45, record.MarkToldToDefend: 0.35,
}

const (
	// What a cap took off an alliance is known from records that err, and from
	// expectation where nobody watched: so much of it may be wrong.
	capDoubt = 0.5
	// Points that are no robot's, in every game: awards, slips of the game file.
	restSD = 0.05 // of an alliance's mean own score
)

// layout is a problem together with where its rows come from.
type layout struct {
	problem   fused.Problem
	played    []played // of the plays of the problem
	scouts    []string
	recordsOf []int // records used, by scout
	totals    int
	records   int
	playoffs  int     // matches of the playoffs that have totals
	capped    float64 // points that caps took off, over all totals
	seen      float64 // own points of the alliances all of whose robots were watched,
	told      float64 // and how many of these the game file explains by the records
}

// played is a match that a play of the problem comes from; empty: from none.
type played struct {
	match record.MatchID
	play  int
}

// lay makes the problem. The false answer: nothing to fit.
func (e *evidence) lay(x *exposure, known *knowledge) (*layout, bool) {
	l := &layout{}
	w := e.worth()
	scale := robotScale(e.totals())
	if len(e.totals()) == 0 {
		if scale = e.scaleWithoutTotals(w, x, known); scale <= 0 {
			return nil, false
		}
	}
	p := &l.problem
	p.Robots, p.Size, p.Scale = len(e.teams), e.size, scale
	if known != nil {
		p.Prior, p.Level = known.robots, known.level
	}
	extra := e.restLevel()
	p.RestSD = math.Hypot(restSD*scale*float64(e.size), extra)
	p.RestMatchSD = extra

	l.nameScouts(e)
	index := map[string]int{}
	for k, s := range l.scouts {
		index[s] = k
	}
	p.Scouts, l.recordsOf = len(l.scouts), make([]int, len(l.scouts))
	p.Trained = e.trained(index)

	order := make([]int, len(e.sides))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		s, t := &e.sides[a], &e.sides[b]
		return cmp.Or(s.match.Compare(t.match), cmp.Compare(s.play, t.play))
	})
	marks := 0
	caps := newCapping(e, w)
	for at := 0; at < len(order); {
		first := &e.sides[order[at]]
		play := fused.Play{Playoff: first.match.Playoffs()}
		for ; marks < len(e.marks) && e.marks[marks].Match.Compare(first.match) <= 0; marks++ {
			m := e.marks[marks]
			play.Marks = append(play.Marks, fused.Mark{Robot: e.index[m.Team], SD: cmp.Or(markSDs[m.Kind], 0.35)})
		}
		for ; at < len(order); at++ {
			s := &e.sides[order[at]]
			if s.match != first.match || s.play != first.play {
				break
			}
			l.side(&play, e, x, w, caps, order[at], index)
		}
		if play.Playoff && len(play.Totals) > 0 {
			l.playoffs++
		}
		if len(play.Totals) > 0 || len(play.Views) > 0 {
			p.Plays = append(p.Plays, play)
			l.played = append(l.played, played{first.match, first.play})
		} else if len(p.Plays) > 0 || len(play.Marks) > 0 {
			// Nothing to see, but a mark must not be lost.
			p.Plays = append(p.Plays, fused.Play{Marks: play.Marks})
			l.played = append(l.played, played{})
		}
	}
	for ; marks < len(e.marks); marks++ { // on matches to come: the robot is another from here on
		m := e.marks[marks]
		p.Plays = append(p.Plays, fused.Play{Marks: []fused.Mark{{Robot: e.index[m.Team], SD: cmp.Or(markSDs[m.Kind], 0.35)}}})
	}
	return l, l.totals+l.records > 0 || known != nil
}

// side adds one alliance to a play.
func (l *layout) side(play *fused.Play, e *evidence, x *exposure, w *worth, caps *capping, i int, scouts map[string]int) {
	s := &e.sides[i]
	from := len(play.Present)
	slot := map[int]int{}
	var there float64
	for k, r := range s.robots {
		share := x.w[i][k]
		if s.absent[k] {
			share = 0
		}
		slot[r] = len(play.Present)
		play.Present = append(play.Present, fused.Present{Robot: r, Exposure: share, ExposureVar: x.wVar[i][k],
			Expected: x.mean[r], ExpectedVar: x.variance + x.meanVar[r]})
		there += share
	}
	if s.own != nil && there > 0 {
		off := caps.off(i)
		l.totals++
		l.capped += off
		play.Totals = append(play.Totals, fused.Total{From: from, To: len(play.Present), Own: *s.own + off, Var: square(capDoubt*off) + s.ownVar})
		l.explain(s, w, off)
	}
	play.Sides = append(play.Sides, fused.Side{From: from, To: len(play.Present)})
	official := map[int]bool{}
	for _, view := range s.views {
		k := slot[view.robot]
		z, fill, ok := w.points(view.obs, s.official[view.robot])
		if !ok || play.Present[k].Exposure == 0 {
			continue
		}
		official[view.robot] = true
		l.records++
		l.recordsOf[scouts[view.obs.Scout]]++
		play.Views = append(play.Views, fused.View{Slot: k, Scout: scouts[view.obs.Scout], Points: z, Var: fill})
	}
	for _, r := range s.robots { // in order, so that the same event gives the same digits
		cells := s.official[r]
		if cells == nil || official[r] || play.Present[slot[r]].Exposure == 0 {
			continue
		}
		if z, fill, ok := w.points(&record.Observation{Team: e.teams[r]}, cells); ok {
			play.Views = append(play.Views, fused.View{Slot: slot[r], Points: z, Var: fill, Official: true})
		}
	}
}

// explain adds to the share of official points that the records and the game
// file account for, if every robot of the alliance was watched.
func (l *layout) explain(s *side, w *worth, off float64) {
	var sum float64
	for k, r := range s.robots {
		if s.absent[k] {
			continue
		}
		var points, n float64
		for _, v := range s.views {
			if v.robot != r {
				continue
			}
			if v.obs.Absent {
				n++
			} else if z, _, ok := w.points(v.obs, s.official[r]); ok {
				points += z
				n++
			}
		}
		if n == 0 {
			return
		}
		sum += points / n
	}
	l.seen += *s.own
	l.told += math.Min(sum-off, *s.own)
}

// nameScouts lists the scouts in order of name.
func (l *layout) nameScouts(e *evidence) {
	for i := range e.sides {
		for _, v := range e.sides[i].views {
			l.scouts = append(l.scouts, v.obs.Scout)
		}
	}
	slices.Sort(l.scouts)
	l.scouts = slices.Compact(l.scouts)
}

// restLevel is how much, in points, an alliance may score beyond its robots by
// what the game file has for it: half of each bonus on a condition, and about
// two units of each action of the alliance.
func (e *evidence) restLevel() float64 {
	var square2 float64
	for _, b := range e.game.Bonuses {
		if b.ForEach == nil {
			square2 += square(b.Points / 2)
		}
	}
	for i := range e.game.Actions {
		a := &e.game.Actions[i]
		if !a.ByAlliance() {
			continue
		}
		best := a.Points
		for _, o := range a.Options {
			best = math.Max(best, o.Points)
		}
		if a.Kind == game.Count || a.Kind == game.Volume {
			best *= 4
		}
		square2 += square(best / 2)
	}
	return math.Sqrt(square2)
}

// scaleWithoutTotals is s while no total is known: from records, or else from
// what is known from before; 0: neither.
func (e *evidence) scaleWithoutTotals(w *worth, x *exposure, known *knowledge) float64 {
	var points, share float64
	for i := range e.sides {
		s := &e.sides[i]
		for k, r := range s.robots {
			for _, v := range s.views {
				if v.robot != r {
					continue
				}
				if z, _, ok := w.points(v.obs, nil); ok {
					points += math.Abs(z)
					share += x.w[i][k]
				}
			}
		}
	}
	if (points == 0 || share == 0) && known != nil {
		points, share = math.Abs(known.level), 1
	}
	switch {
	case share == 0:
		return 0
	case points == 0:
		return 1
	}
	return points / share
}

// fuse fits the third layer.
func (l *layout) fuse(teams []record.TeamID, keep *Components) (*fused.Fit, error) {
	opt := fused.Options{}
	if keep != nil {
		opt.Hold = true
		opt.Start = &fused.Settings{Components: keep.values, Spread: make([]float64, len(l.scouts))}
		for k, s := range l.scouts {
			opt.Start.Spread[k] = cmp.Or(keep.spread[s], 1)
		}
		for _, t := range teams {
			opt.Start.Tail = append(opt.Start.Tail, cmp.Or(keep.tail[t], 1))
		}
	}
	fit, err := l.problem.Fit(opt)
	if err != nil {
		return nil, fmt.Errorf("fuse totals and records: %w", err)
	}
	return fit, nil
}

// Components are what an estimate learned about noise: the variance components,
// how careful each scout is, and how far out each robot is. They can be kept from one estimate to the
// next (Options.Components).
type Components struct {
	values fused.Components
	spread map[string]float64        // by scout
	tail   map[record.TeamID]float64 // by robot
}
