package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// rounds is how often the priors are drawn to what the event shows.
const rounds = 3

// weigh turns likelihood ratios into probabilities. Mistakes of one row shut
// each other out. Those of others in the same alliance do so only as far as
// they explain the official figures: one mistake is enough for these.
func (t *table) weigh(all []fault, chances *[priorCount]float64) {
	share := learn(&[priorCount]float64{}, &[priorCount]float64{})
	rows := make([]float64, len(t.rows))
	rowTotals := make([]float64, len(t.rows))
	sides := make([][2]float64, len(t.plays))
	lift := func(x float64) float64 { return math.Exp(math.Min(60, x)) }
	for range rounds {
		clear(rows)
		clear(rowTotals)
		clear(sides)
		odds := func(f *fault) (float64, float64) {
			p := share[f.prior] / f.parts * lift(f.row)
			return p * lift(f.total), p * math.Max(0, lift(f.total)-1)
		}
		for i := range all {
			f := &all[i]
			whole, by := odds(f)
			for _, r := range f.rows {
				if r < 0 {
					continue
				}
				rows[r] += whole
				rowTotals[r] += by
				sides[t.rows[r].play][t.plays[t.rows[r].play].side(t.rows[r].seat)] += by
			}
		}
		var found [priorCount]float64
		for i := range all {
			f := &all[i]
			whole, _ := odds(f)
			z := 1.0
			var seen [2]bool
			for _, r := range f.rows {
				if r < 0 {
					continue
				}
				row := t.rows[r]
				z += rows[r] - rowTotals[r]
				if at := t.plays[row.play].side(row.seat); !seen[at] {
					seen[at] = true
					z += sides[row.play][at]
				}
			}
			if f.rows[1] >= 0 {
				z -= whole // stands at both rows
			}
			f.chance = math.Min(1, whole/math.Max(z, 1+whole))
			found[f.prior] += f.chance
		}
		share = learn(&found, chances)
	}
}

// doubts are the suspects among rows of robots that are in their match.
func (t *table) doubts(e *effects) []Suspect {
	all, chances := t.faults()
	t.weigh(all, &chances)
	by := make([][]*fault, len(t.rows))
	for i := range all {
		for _, r := range all[i].rows {
			if r >= 0 {
				by[r] = append(by[r], &all[i])
			}
		}
	}
	var out []Suspect
	sure := make([]float64, len(t.rows)) // that something is wrong with a row
	done := map[*fault]bool{}
	for i := range t.rows {
		sum := map[Kind]float64{}
		for _, f := range by[i] {
			sum[f.kind] += f.chance
		}
		var best *fault
		for _, f := range by[i] {
			sure[i] += f.chance
			if best == nil || cmp.Or(cmp.Compare(sum[f.kind], sum[best.kind]), cmp.Compare(f.chance, best.chance)) > 0 {
				best = f
			}
		}
		if best == nil || done[best] {
			continue
		}
		done[best] = true
		s := t.say(best)
		s.Probability = math.Min(1, sum[best.kind])
		if best.kind == Swap {
			s.Probability = best.chance
		}
		s.Probability = t.calibrated(best.kind, s.Probability)
		if s.Probability < t.opt.Least {
			continue
		}
		e.mended(&s, best)
		out = append(out, s)
	}
	out = append(out, t.disagreeing(e, sure)...)
	out = append(out, t.absent(e)...)
	out = append(out, t.hurried(e)...)
	return append(out, t.unplayed(e)...)
}

func (t *table) suspect(r *row, kind Kind) Suspect {
	m := t.plays[r.play].match
	return Suspect{Match: m.ID, Play: later(m.Play), Kind: kind, Teams: []record.TeamID{t.teams[r.robot]}, Scouts: []string{r.scout}, Most: t.teams[r.robot]}
}

// later is a play as Suspect has it: the first is not said.
func later(play int) int {
	if play > 1 {
		return play
	}
	return 0
}

// say words a fault.
func (t *table) say(f *fault) Suspect {
	r := t.rows[f.rows[0]]
	s := t.suspect(r, f.kind)
	label := func(k int) string { return t.g.Actions[t.cells[k].action].Label() }
	switch f.kind {
	case Swap:
		o := t.rows[f.rows[1]]
		s.Teams, s.Scouts = append(s.Teams, t.teams[o.robot]), append(s.Scouts, o.scout)
		s.Reason = "Each record looks like the other robot's."
	case WrongRobot:
		s.Teams = append(s.Teams, t.teams[f.robot])
		s.Reason = fmt.Sprintf("The record looks like %s, not like %s.", t.teams[f.robot], t.teams[r.robot])
		if f.play != r.play {
			other := t.plays[f.play].match.ID
			s.Other = &other
			s.Reason = fmt.Sprintf("The record looks like %s in %s.", t.teams[f.robot], other)
		}
	case Period:
		s.Action = t.cells[f.cell].id
		s.Reason = fmt.Sprintf("%s seems to be counted in a later period.", label(f.cell))
	case Stuck:
		c := &t.cells[f.cell]
		s.Action = c.id
		what := ""
		if c.missed {
			s.Action, what = c.id+"_missed", ", missed"
		}
		s.Reason = fmt.Sprintf("%s%s: %g, where about %.0f are usual.", label(f.cell), what, r.vals[f.cell], t.profiles.of(r.robot, r.play).rate[f.cell])
	default:
		s.Reason = "The record fits neither this robot nor another of the match."
		if f.prior == blankPrior {
			s.Reason = "Everything is zero, which is rare for this robot."
		}
	}
	return s
}

// disagreeing are two records of one robot that cannot both be right, where it
// is not known already which one is wrong.
func (t *table) disagreeing(e *effects, sure []float64) (out []Suspect) {
	pi := priors[disagreePrior].share
	for i := range t.plays {
		for _, ids := range t.plays[i].rows {
			for a := range ids {
				for b := a + 1; b < len(ids); b++ {
					x, y := t.rows[ids[a]], t.rows[ids[b]]
					if x.obs.Checked && y.obs.Checked {
						continue
					}
					if x.absent != y.absent && !x.half && !y.half {
						s := t.pair(x, y)
						s.fact, s.Probability, s.Reason = true, 1, "One scout saw the robot, the other called it absent."
						s.Effect = e.worth[x.robot] / (e.seen[x.robot] + 10) / 2
						out = append(out, s)
						continue
					}
					if !x.usable() || !y.usable() || math.Max(sure[ids[a]], sure[ids[b]]) > 0.5 {
						continue
					}
					p := t.profiles.of(x.robot, i)
					apart := t.profiles.logRow(y, p, 1, nil) - t.logSame(y, x, p, nil)
					odds := pi / (1 - pi) * math.Exp(math.Min(60, apart))
					s := t.pair(x, y)
					s.Probability = t.calibrated(Disagree, odds/(1+odds))
					own, _ := e.points(x)
					other, _ := e.points(y)
					s.Effect = e.weight[x.robot] * math.Abs(own-other) / 2
					s.Reason = fmt.Sprintf("Two records of one robot: %.0f and %.0f points.", own, other)
					out = append(out, s)
				}
			}
		}
	}
	return out
}

func (t *table) pair(x, y *row) Suspect {
	s := t.suspect(x, Disagree)
	s.Scouts = append(s.Scouts, y.scout)
	return s
}

// absent are robots that were called absent and scored, by the venue's word,
// another scout's, or the alliance's total.
func (t *table) absent(e *effects) (out []Suspect) {
	prior := priors[absentPrior].share
	for _, r := range t.rows {
		if r.obs.Checked {
			continue
		}
		p := &t.plays[r.play]
		official := p.absent[r.seat]
		odds := prior / (1 - prior)
		s := t.suspect(r, Absent)
		s.Effect = e.worth[r.robot] * 0.95 / (e.seen[r.robot] + 10)
		switch {
		case !r.absent && official && t.did(r):
			// The venue says absent, and the scout saw it score.
			s.fact, s.Probability, s.Reason = true, 0.95, "The venue calls it absent, the record has it score."
		case !r.absent || official:
			continue
		case t.officialValue(r):
			s.fact, s.Probability, s.Reason = true, 0.99, "Called absent, and the venue has it score."
		default:
			expect, v := t.totals.expect(t.profiles.of(r.robot, r.play))
			odds *= math.Exp(math.Min(60, t.totals.moved(r, expect, &v)))
			for _, id := range p.rows[r.seat] {
				if o := t.rows[id]; !o.absent && t.did(o) {
					odds *= 20
				}
			}
			s.Probability = t.calibrated(Absent, odds/(1+odds))
			s.Reason = "Called absent, and the alliance's result has room for what it usually does."
		}
		out = append(out, s)
	}
	return out
}

// did: a row has something that the robot did.
func (t *table) did(r *row) bool {
	for k, x := range r.vals {
		if t.cells[k].kind != choiceCell && x > 0 {
			return true
		}
	}
	return false
}

// officialValue: the venue published something that the robot of a row did.
func (t *table) officialValue(r *row) bool {
	p := &t.plays[r.play]
	colour, at := record.Red, r.seat
	if p.side(r.seat) == 1 {
		colour, at = record.Blue, r.seat-p.red
	}
	result := p.match.Side(colour).Result
	if result == nil {
		return false
	}
	for id, values := range result.Robots {
		a, ok := t.g.Action(id)
		if !ok || at >= len(values) || values[at] == "" {
			continue
		}
		if o, ok := a.Option(values[at]); ok && o.Points > 0 || a.Kind != game.Choice && values[at] != "0" {
			return true
		}
	}
	return false
}

// unplayed are records of matches that have no result although later ones do.
func (t *table) unplayed(e *effects) (out []Suspect) {
	last := -1
	for i := range t.plays {
		if t.plays[i].match.Played() {
			last = i
		}
	}
	for _, r := range t.rows {
		if m := t.plays[r.play].match; r.play < last && !m.Played() && r.doubtable() {
			s := t.suspect(r, Outlier)
			s.fact, s.Probability, s.Reason = true, 0.5, "The match has no result, and later ones have."
			own, usual := e.points(r)
			s.Shift = e.shared(r) * (usual - own)
			s.Effect = math.Abs(s.Shift)
			out = append(out, s)
		}
	}
	return out
}

// madeUp is the probability that a record which was tapped within seconds was
// made up afterwards; plausible, not measured. What it says is no help: who
// makes a record up writes what the robot usually does.
const madeUp = 0.7

// hurried are records that nobody can have tapped while watching.
func (t *table) hurried(e *effects) (out []Suspect) {
	for _, r := range t.rows {
		if r.doubtable() && t.hasty(r) {
			s := t.suspect(r, Outlier)
			s.fact, s.Probability, s.Reason = true, madeUp, "Everything was tapped within a few seconds."
			s.Effect = e.sd[r.robot]
			out = append(out, s)
		}
	}
	return out
}

// hasty: everything of a record was tapped in a small part of the match.
func (t *table) hasty(r *row) bool {
	taps := r.obs.Taps
	if len(taps) < 5 || r.obs.Edited {
		return false
	}
	first := slices.MinFunc(taps, func(a, b record.Tap) int { return cmp.Compare(a.MS, b.MS) }).MS
	last := slices.MaxFunc(taps, func(a, b record.Tap) int { return cmp.Compare(a.MS, b.MS) }).MS
	return float64(last-first) < math.Max(400*float64(len(taps)), 30*t.g.MatchSeconds())
}
