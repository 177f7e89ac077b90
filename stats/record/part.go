package record

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"sextant/stats/game"
)

// seamMS is how far the ends of two parts may lie apart, or overlap, to be one
// watching handed on: the time to give a tablet to a neighbour. No source.
const seamMS = 15_000

// Part reports whether the scout watched a part of the match only.
func (o *Observation) Part() bool { return o.From != nil || o.To != nil }

// JoinParts puts parts of a match that scouts handed to each other together to
// one record of the whole, in place of its first part: counts, fouls and
// seconds add up, a flag is set if any part has it, of choices and other
// answers the last word holds, and what only one part holds is taken from it
// (a period that the other did not see). A part whose other half is missing
// stays as it is. The order is kept, and none of the records is changed.
func JoinParts(g *game.Game, all []*Observation) []*Observation {
	type robot struct {
		match MatchID
		play  int
		team  TeamID
	}
	parts := map[robot][]*Observation{}
	for _, o := range all {
		if o.Part() && !o.Absent && !o.Discarded {
			k := robot{o.Match, PlayOf(o.Play), o.Team}
			parts[k] = append(parts[k], o)
		}
	}
	whole := map[*Observation]*Observation{} // by first part
	used := map[*Observation]bool{}
	for _, list := range parts {
		slices.SortStableFunc(list, func(a, b *Observation) int { return cmp.Compare(from(a), from(b)) })
		for _, first := range list {
			if first.From != nil {
				break
			}
			chain := []*Observation{first}
			for at := 0; at < len(list) && chain[len(chain)-1].To != nil; at++ {
				last, next := chain[len(chain)-1], list[at]
				if gap := from(next) - *last.To; next.From != nil && !used[next] && gap >= -seamMS && gap <= seamMS {
					chain = append(chain, next)
				}
			}
			if len(chain) < 2 || chain[len(chain)-1].To != nil {
				continue
			}
			for _, o := range chain {
				used[o] = true
			}
			whole[first] = join(g, chain)
		}
	}
	out := make([]*Observation, 0, len(all))
	for _, o := range all {
		switch w := whole[o]; {
		case w != nil:
			out = append(out, w)
		case !used[o]:
			out = append(out, o)
		}
	}
	return out
}

// Rows says observations as a table can, which has no place for the part that
// was watched: parts that were handed on are one row of the whole, under the
// scout of the first part. A part whose other half is missing says nothing of
// counts, choices and fouls, as it does to an estimate: its cells are empty,
// which means not watched. Rows are ordered by match, play, team and scout;
// those that were set aside are left out.
func Rows(g *game.Game, all []Observation) []Observation {
	list := make([]*Observation, 0, len(all))
	for i := range all {
		if !all[i].Discarded {
			list = append(list, &all[i])
		}
	}
	slices.SortStableFunc(list, func(a, b *Observation) int {
		return cmp.Or(a.Match.Compare(b.Match), cmp.Compare(PlayOf(a.Play), PlayOf(b.Play)),
			CompareTeams(a.Team, b.Team), cmp.Compare(a.Scout, b.Scout))
	})
	list = JoinParts(g, list)
	out := make([]Observation, len(list))
	for i, o := range list {
		out[i] = *o
		if o.Part() {
			out[i].Counts, out[i].Choices, out[i].Fouls = nil, nil, nil
		}
	}
	return out
}

func from(o *Observation) int {
	if o.From == nil {
		return 0
	}
	return *o.From
}

func join(g *game.Game, chain []*Observation) *Observation {
	w := *chain[0]
	w.To = nil
	w.Counts, w.Fouls, w.Choices, w.Answers = maps.Clone(w.Counts), maps.Clone(w.Fouls), maps.Clone(w.Choices), maps.Clone(w.Answers)
	w.Taps = slices.Clone(w.Taps)
	for _, o := range chain[1:] {
		w.Counts = merged(w.Counts, o.Counts, func(id string, a, b Tally) Tally {
			most := float64(MaxCount)
			if action, ok := g.Action(id); ok && action.Kind == game.Flag {
				most = 1
			}
			return Tally{Made: sum(a.Made, b.Made, most), Missed: sum(a.Missed, b.Missed, MaxCount)}
		})
		w.Fouls = merged(w.Fouls, o.Fouls, func(_ string, a, b float64) float64 { return min(MaxCount, a+b) })
		w.Choices = merged(w.Choices, o.Choices, func(_ string, a, b Chosen) Chosen {
			if b.Option == "" {
				b.Option = a.Option
			}
			if b.Tried == nil || a.Tried != nil && *a.Tried {
				b.Tried = a.Tried
			}
			return b
		})
		w.Answers = merged(w.Answers, o.Answers, func(id string, a, b game.Answer) game.Answer {
			if a.Flag != nil && *a.Flag {
				return a
			}
			q, ok := g.Question(id)
			if !ok || a.Number == nil || b.Number == nil || !strings.HasSuffix(q.Role, "_seconds") {
				return b
			}
			total := *a.Number + *b.Number
			if q.Max != nil {
				total = min(total, *q.Max)
			}
			return game.Answer{Number: &total}
		})
		w.Taps = append(w.Taps, o.Taps...)
		w.Edited = w.Edited || o.Edited
		w.Checked = w.Checked && o.Checked
		if w.Note != "" && o.Note != "" {
			w.Note += "; "
		}
		w.Note += o.Note
	}
	slices.SortStableFunc(w.Taps, func(a, b Tap) int { return cmp.Compare(a.MS, b.MS) })
	return &w
}

// merged is both maps in one; both says what holds where both have something.
func merged[V any](a, b map[string]V, both func(id string, a, b V) V) map[string]V {
	for id, v := range b {
		if old, ok := a[id]; ok {
			v = both(id, old, v)
		}
		if a == nil {
			a = map[string]V{}
		}
		a[id] = v
	}
	return a
}

// sum of two counts of which either may not have been watched.
func sum(a, b *float64, most float64) *float64 {
	if a == nil || b == nil {
		return nil
	}
	total := min(most, *a+*b)
	return &total
}
