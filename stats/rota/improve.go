package rota

import (
	"slices"

	"sextant/stats/record"
)

// mostPasses bounds the local search; it has always ended before.
const mostPasses = 20

// farthest is how many matches ahead are solved two at a time: a plan is made
// anew long before later ones are played.
const farthest = 12

// improve solves matches anew with the others as they are, then two at a time,
// moves breaks, and lets people sit at other times, until nothing makes the plan
// better.
func (p *planner) improve() {
	for range mostPasses {
		better := false
		for m := range p.matches {
			better = p.solve(m) || better
		}
		better = p.moveBreaks() || better
		for i := range p.req.People {
			better = p.reschedule(i, true) || better
		}
		if !better && !p.together() {
			return
		}
	}
}

// together tries, in each of the next matches, every other robot for each person (two may
// change places), and solves the matches anew that these robots play next and
// played last.
func (p *planner) together() bool {
	better := false
	for m := range min(farthest, len(p.matches)) {
		for i, place := range p.watch[m] {
			if place == nobody || p.kept[m][i] != nobody {
				continue
			}
			for other := range p.matches[m].robots {
				if other != p.watch[m][i] {
					better = p.try(m, i, other) || better
				}
			}
		}
	}
	return better
}

// try puts person i of match m on another robot; see together.
func (p *planner) try(m, i, place int) bool {
	f := &p.matches[m]
	if p.forbid[i] == f.robots[place] {
		return false
	}
	was := p.loss().Total()
	old := map[int][]int{m: slices.Clone(p.watch[m])}
	from := p.watch[m][i]
	if j := slices.Index(p.watch[m], place); j >= 0 {
		if p.kept[m][j] != nobody || p.forbid[j] == f.robots[from] {
			return false
		}
		p.watch[m][j] = from
	}
	p.watch[m][i] = place
	for _, r := range []int{f.robots[from], f.robots[place]} {
		for _, k := range p.neighbours(m, r) {
			if old[k] == nil {
				old[k] = slices.Clone(p.watch[k])
			}
			p.solve(k)
		}
	}
	if p.loss().Total() < was-1e-9 {
		return true
	}
	for k, seats := range old {
		copy(p.watch[k], seats)
	}
	return false
}

// neighbours are the matches before and after m that robot r plays.
func (p *planner) neighbours(m, r int) (out []int) {
	for _, by := range []int{-1, 1} {
		for k := m + by; k >= 0 && k < len(p.matches); k += by {
			if slices.Contains(p.matches[k].robots, r) {
				out = append(out, k)
				break
			}
		}
	}
	return out
}

// moveBreaks tries every break a little earlier and a little later.
func (p *planner) moveBreaks() bool {
	better := false
	for i := range p.req.People {
		for m := range p.matches {
			for _, by := range []int{-1, 1} {
				better = p.move(i, m, by) || better
			}
		}
	}
	return better
}

// move shifts a break of person i that has match m at its end: later (by 1, m is
// its first match) or earlier (-1, m is its last). The person sits in m and rests
// in the match beyond the other end. It is undone unless the plan gets better
// and keeps the constraints.
func (p *planner) move(i, m, by int) bool {
	if p.duty[m][i] || !p.req.People[i].on(p.matches[m].id) {
		return false
	}
	before := m - by // of the row beside the break
	if before < 0 || before >= len(p.matches) || !p.duty[before][i] {
		return false
	}
	end := m
	for end >= 0 && end < len(p.matches) && !p.duty[end][i] {
		end += by
	}
	if end < 0 || end >= len(p.matches) || p.kept[end][i] != nobody {
		return false
	}
	was := p.loss().Total()
	rows := [2][]int{slices.Clone(p.watch[m]), slices.Clone(p.watch[end])}
	p.duty[m][i], p.duty[end][i] = true, false
	if p.rested(i) && p.seated(m) <= p.req.Seats {
		p.solve(m)
		p.solve(end)
		if p.loss().Total() < was-1e-9 {
			return true
		}
	}
	p.duty[m][i], p.duty[end][i] = false, true
	copy(p.watch[m], rows[0])
	copy(p.watch[end], rows[1])
	return false
}

func (p *planner) seated(m int) (n int) {
	for _, there := range p.duty[m] {
		n += count(there)
	}
	return n
}

// seats are the plan with its reasons, in the order of matches and people.
func (p *planner) seats() []record.SeatBody {
	out := []record.SeatBody{}
	whole := p.loss()
	seen := make([]int, len(p.robots))
	for i := range p.robots {
		seen[i] = p.robots[i].Seen
	}
	for m := range p.matches {
		f := &p.matches[m]
		for i, place := range p.watch[m] {
			if place == nobody {
				continue
			}
			second := slices.Contains(p.watch[m][:i], place)
			p.watch[m][i] = nobody
			without := p.loss()
			p.watch[m][i] = place
			r := f.robots[place]
			out = append(out, record.SeatBody{
				Match: f.id, Team: p.robots[r].Team, Scout: p.req.People[i].Scout,
				Reason: p.reason(m, r, seen[r], second, &whole, &without),
			})
		}
		for i, place := range p.watch[m] {
			if place != nobody && !slices.Contains(p.watch[m][:i], place) {
				seen[f.robots[place]]++
			}
		}
	}
	return out
}

// reason is the term that would be lost most.
func (p *planner) reason(m, r, seen int, second bool, whole, without *Loss) *record.SeatReason {
	out := &record.SeatReason{Seen: seen}
	switch brief, list, detail, asked := without.Brief-whole.Brief, without.List-whole.List, without.Detail-whole.Detail, without.Asked-whole.Asked; {
	case second:
		out.Kind = record.SeatSecond
	case asked > 0:
		out.Kind = record.SeatQuestion
	case brief > max(list, detail):
		if id, with, ok := p.meets(m, r); ok {
			out.Kind, out.Match = record.SeatAgainstUs, &id
			if with {
				out.Kind = record.SeatWithUs
			}
			return out
		}
		fallthrough // it tells of a partner's partner, which nobody wants to read
	case list > detail:
		out.Kind = record.SeatUnsure
	}
	if out.Kind == "" || out.Kind == record.SeatUnsure && p.robots[r].List < 0.1 {
		out.Kind = record.SeatSeldomSeen
		if seen == 0 {
			out.Kind = record.SeatNeverSeen
		}
	}
	return out
}

// meets is the next match of ours after m in which the robot plays.
func (p *planner) meets(m, r int) (id record.MatchID, with, ok bool) {
	for k := m + 1; k < len(p.matches); k++ {
		f := &p.matches[k]
		at, us := slices.Index(f.robots, r), slices.Index(f.robots, p.our)
		if at >= 0 && us >= 0 {
			return f.id, (at < f.red) == (us < f.red), true
		}
	}
	return id, false, false
}
