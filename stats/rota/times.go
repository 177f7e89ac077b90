package rota

import (
	"cmp"
	"math"
	"slices"
)

// when is where a person is in the alternation of rows and breaks: how many
// matches since the last break, and how many off since the last of them. A pause
// shorter than a break does not begin a new row.
type when struct{ row, off int }

// after is where the person is after a match, and whether sitting in it is allowed.
func (r *Request) after(w when, sits bool) (when, bool) {
	switch {
	case r.Row == 0:
		return when{}, true
	case sits:
		return when{w.row + 1, 0}, w.row < r.Row
	case w.off+1 >= r.Rest:
		return when{0, r.Rest}, true
	}
	return when{w.row, w.off + 1}, true
}

// sits: the person was there in the match before.
func (w when) sits() bool { return w.row > 0 && w.off == 0 }

// begin is where each person is after the matches before the plan.
func (p *planner) begin() []when {
	at := make([]when, len(p.req.People))
	if p.req.Row == 0 {
		return at
	}
	for i := range at {
		for _, there := range p.req.Before {
			sat := there[p.req.People[i].Scout]
			if sat && at[i].row == p.req.Row {
				at[i].row = 0 // whoever sat when a break was due has begun a row
			}
			at[i], _ = p.req.after(at[i], sat)
		}
	}
	return at
}

// takeBreaks says who is on duty when. Rows are begun one after the other, so
// that people do not all rest at once.
func (p *planner) takeBreaks() {
	n := len(p.req.People)
	at, load := p.begin(), make([]int, n)
	wanted, bound := map[[2]int]bool{}, make([]bool, n)
	for _, s := range p.req.Kept {
		if m, person := p.find(s.Match, s.Scout); m >= 0 && person >= 0 {
			wanted[[2]int{m, person}], bound[person] = true, true
		}
	}
	if p.req.Row > 0 && !slices.ContainsFunc(at, func(w when) bool { return w.row > 0 }) {
		for i := range n { // nobody sits yet: let the first breaks come one after the other
			if !bound[i] {
				at[i].row = i * p.req.Row / n
			}
		}
	}
	// spares: sitting in match m, a person can still sit in all seats to be kept.
	spares := func(m, i int) bool {
		w, may := p.req.after(at[i], true)
		for k := m + 1; k < len(p.matches) && may; k++ {
			w, may = p.req.after(w, wanted[[2]int{k, i}] && p.req.People[i].on(p.matches[k].id))
		}
		return may
	}
	for m := range p.matches {
		var may []int
		for i := range n {
			_, rested := p.req.after(at[i], true)
			if rested && p.req.People[i].on(p.matches[m].id) && (wanted[[2]int{m, i}] || spares(m, i)) {
				may = append(may, i)
			}
		}
		slices.SortStableFunc(may, func(a, b int) int {
			return cmp.Or(
				-cmp.Compare(count(wanted[[2]int{m, a}]), count(wanted[[2]int{m, b}])),
				-cmp.Compare(count(at[a].sits()), count(at[b].sits())), // who sits stays
				cmp.Compare(load[a], load[b]))
		})
		for _, i := range may[:min(len(may), p.req.Seats)] {
			p.duty[m][i] = true
			load[i]++
		}
		for i := range n {
			at[i], _ = p.req.after(at[i], p.duty[m][i])
		}
	}
}

// rested: person i never sits in more matches than asked for between two breaks.
func (p *planner) rested(i int) bool {
	w, may := p.begin()[i], true
	for m := range p.matches {
		if w, may = p.req.after(w, p.duty[m][i]); !may {
			return false
		}
	}
	return true
}

// reschedule lets person i sit at other times: what each match would bring alone,
// beside all that the others do, is added up over every way to sit that holds
// rows and breaks, by dynamic programming over matches. Matches that a person
// watches do not really add up, so the way with the largest sum is kept only if
// the plan as a whole gets better. With push, i may take the seat of somebody
// else, who then sits at other times too.
func (p *planner) reschedule(i int, push bool) bool {
	was := p.loss().Total()
	duty, watch := make([][]bool, len(p.matches)), make([][]int, len(p.matches))
	for m := range p.matches {
		duty[m], watch[m] = slices.Clone(p.duty[m]), slices.Clone(p.watch[m])
		p.duty[m][i] = p.kept[m][i] != nobody
		p.watch[m][i] = p.kept[m][i]
	}
	worth := p.worth(i, push)
	var pushed []int
	for m, sits := range p.bestTimes(i, worth) {
		if !sits {
			continue
		}
		p.duty[m][i], p.watch[m][i] = true, worth[m].place
		if duty[m][i] { // where the whole plan has put this person
			p.watch[m][i] = watch[m][i]
		}
		if j := worth[m].instead; j != nobody {
			p.duty[m][j], p.watch[m][j] = false, nobody
			pushed = append(pushed, j)
		}
	}
	for m := range p.matches {
		if !slices.Equal(p.duty[m], duty[m]) {
			p.solve(m)
		}
	}
	slices.Sort(pushed)
	for _, j := range slices.Compact(pushed) {
		p.reschedule(j, false)
	}
	if p.loss().Total() < was-1e-9 {
		return true
	}
	for m := range p.matches {
		copy(p.duty[m], duty[m])
		copy(p.watch[m], watch[m])
	}
	return false
}

// chance is what a person would take off the loss in one match, sitting nowhere
// else but in kept seats: at which place, and whose seat that is (nobody: a free
// one). A gain of -Inf: not possible.
type chance struct {
	gain           float64
	place, instead int
}

// worth is what each match would bring if person i sat in it.
func (p *planner) worth(i int, push bool) []chance {
	out := make([]chance, len(p.matches))
	without := p.loss().Total()
	for m := range p.matches {
		out[m] = chance{math.Inf(-1), nobody, nobody}
		if place := p.kept[m][i]; place != nobody {
			out[m] = chance{0, place, nobody}
			continue
		}
		if !p.req.People[i].on(p.matches[m].id) {
			continue
		}
		if p.seated(m) < p.req.Seats {
			p.bestPlace(m, i, nobody, without, &out[m])
			continue
		}
		for j, place := range p.watch[m] {
			if push && place != nobody && p.kept[m][j] == nobody {
				p.watch[m][j] = nobody
				p.bestPlace(m, i, j, without, &out[m])
				p.watch[m][j] = place
			}
		}
	}
	return out
}

// bestPlace puts the place into best at which person i, who sits nowhere in
// match m, takes most off the loss, if it is more than what stands there.
func (p *planner) bestPlace(m, i, instead int, without float64, best *chance) {
	for place, r := range p.matches[m].robots {
		if r == p.forbid[i] {
			continue
		}
		p.watch[m][i] = place
		if gain := without - p.loss().Total(); gain > best.gain {
			*best = chance{gain, place, instead}
		}
	}
	p.watch[m][i] = nobody
}

// bestTimes says in which matches person i sits so that worth adds up to most;
// kept seats are sat in.
func (p *planner) bestTimes(i int, worth []chance) []bool {
	n := len(p.matches)
	type step struct {
		sum  float64
		sits bool
	}
	// ahead[m][w] is the most that matches from m on bring from there.
	ahead := make([]map[when]step, n+1)
	var from func(m int, w when) float64
	from = func(m int, w when) float64 {
		if m == n {
			return 0
		}
		if s, ok := ahead[m][w]; ok {
			return s.sum
		}
		best := step{sum: math.Inf(-1)}
		if p.kept[m][i] == nobody {
			off, _ := p.req.after(w, false)
			best.sum = from(m+1, off)
		}
		if on, may := p.req.after(w, true); may && !math.IsInf(worth[m].gain, -1) {
			if sum := worth[m].gain + from(m+1, on); sum >= best.sum {
				best = step{sum, true}
			}
		}
		if ahead[m] == nil {
			ahead[m] = map[when]step{}
		}
		ahead[m][w] = best
		return best.sum
	}
	w := p.begin()[i]
	from(0, w)
	out := make([]bool, n)
	for m := range out {
		out[m] = ahead[m][w].sits
		w, _ = p.req.after(w, out[m])
	}
	return out
}
