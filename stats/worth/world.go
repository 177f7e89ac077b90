package worth

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/bracket"
	"sextant/stats/selection"
	"sextant/stats/simulate"
)

// row is where the answers of one world go, by candidate.
type row struct {
	worth, win, final []float32
	second            []int16
	here              []int8
	invited           *invited
}

// worker plays worlds. For one goroutine.
type worker struct {
	e       *Evaluation
	source  *rand.PCG
	rng     *rand.Rand
	run     *simulate.Run
	caps    *caps
	world1  []moments // by robot
	base    *selection.Board
	now     *selection.Board
	chances []*bracket.Chances // by our alliance
	game    []float64
	sides   []side
	robots  []int
	members []int
	round   uint64           // of the world that is being played
	lists   map[int][]int    // by captain: whom it would call, best first, in this world
	spare   [][]int          // memory of lists
	accepts []float64        // by place: uniform number of this world
	keys    []float64        // by place
	greedy  map[uint64][]int // by our members: whom we would call, best first
	luck    []float64        // of a playoff that is too large to go through
}

func (e *Evaluation) newWorker() *worker {
	src := rand.NewPCG(0, 0)
	n := e.format.Alliances
	w := &worker{e: e, source: src, rng: rand.New(src), caps: e.m.newCaps(), world1: make([]moments, e.m.n),
		base: e.board.Clone(), now: e.board.Clone(), game: make([]float64, n*n), sides: make([]side, n),
		lists: map[int][]int{}, accepts: make([]float64, len(e.index)), keys: make([]float64, len(e.index)), greedy: map[uint64][]int{}}
	w.run = e.m.engine.NewRun(w.rng)
	w.chances = make([]*bracket.Chances, n)
	return w
}

// world plays every candidate in world r.
func (w *worker) world(r int, out row) {
	e := w.e
	w.round = uint64(r)
	w.source.Seed(e.opt.Seed, w.round)
	for i, strength := range w.run.DrawWorld() {
		w.world1[i] = e.m.robot(i, strength)
	}
	for p := range w.accepts {
		w.accepts[p] = w.rng.Float64()
	}
	if e.plans == nil {
		w.luck = w.luck[:0]
		for range 4 * len(e.format.Series) {
			w.luck = append(w.luck, w.rng.Float64())
		}
	}
	for _, list := range w.lists {
		w.spare = append(w.spare, list[:0])
	}
	clear(w.lists)

	w.invitation(out.invited)
	w.base.Restore(e.board)
	if !w.advance(w.base) { // we never choose
		for k := range out.worth {
			out.worth[k], out.second[k], out.here[k] = float32(math.NaN()), none, none
		}
		return
	}
	_, captain := w.base.Now()
	ours := w.onTurn()
	best, other := w.proxies(captain)
	for k, p := range e.candidates {
		if !w.base.MayInvite(captain, p) {
			out.worth[k], out.second[k], out.here[k] = float32(math.NaN()), none, 0
			if ours {
				out.here[k] = none
			}
			continue
		}
		w.now.Restore(w.base)
		w.now.Take(captain, p)
		out.second[k] = none
		if w.advance(w.now) {
			_, c := w.now.Now()
			if next := w.choice(w.now, c); next >= 0 {
				out.second[k] = int16(next)
			}
			if ours { // who is still there if we call the likeliest, or, for itself, the next
				if p == best {
					w.look(c, out.here, best, false)
				} else if p == other {
					w.look(c, out.here, best, true)
				}
			}
		} else if ours && (p == best || p == other) {
			for j := range out.here {
				out.here[j] = none
			}
		}
		if !ours {
			out.here[k] = 1
		}
		o := w.finish(w.now)
		out.worth[k], out.win[k], out.final[k] = float32(o.worth), float32(o.win), float32(o.final)
	}
}

// onTurn reports whether our alliance is on the clock where the selection stands.
func (w *worker) onTurn() bool {
	e := w.e
	return e.turn >= 0 && (e.captain == e.us || e.board.Joined(e.us) == e.turn)
}

// look notes which candidates are still there at our next turn; only the one
// that was called otherwise, or all others.
func (w *worker) look(captain int, here []int8, best int, only bool) {
	for j, p := range w.e.candidates {
		if (p == best) != only {
			continue
		}
		here[j] = 0
		if w.now.MayInvite(captain, p) {
			here[j] = 1
		}
	}
}

// proxies are the two candidates that add most by the expected score.
func (w *worker) proxies(captain int) (best, other int) {
	best, other = none, none
	for _, p := range w.favourites(w.base, captain) {
		if !w.base.MayInvite(captain, p) {
			continue
		}
		if best == none {
			best = p
		} else {
			return best, p
		}
	}
	return best, other
}

// invitation plays both answers to the captain on the clock.
func (w *worker) invitation(out *invited) {
	e := w.e
	w.now.Restore(e.board)
	a, c := w.now.Now()
	if a < 0 || w.onTurn() || !w.now.MayInvite(c, e.us) {
		return
	}
	w.now.Take(c, e.us)
	out.accept = w.finish(w.now)
	w.now.Restore(e.board)
	w.now.Refuse(e.us)
	out.decline = w.finish(w.now)
}

// ours reports whether alliance a with its captain is ours.
func (w *worker) ours(b *selection.Board, a, captain int) bool {
	return captain == w.e.us || b.Joined(w.e.us) == a
}

// advance lets the other captains choose until it is our turn; false: all
// picks are made.
func (w *worker) advance(b *selection.Board) bool {
	for {
		a, c := b.Now()
		if a < 0 {
			return false
		}
		if w.ours(b, a, c) {
			return true
		}
		w.other(b, a, c)
	}
}

// other lets a captain of another alliance choose.
func (w *worker) other(b *selection.Board, a, captain int) {
	e := w.e
	last := b.LastCaptain()
	for _, p := range w.list(captain) {
		if !b.MayInvite(captain, p) || e.refused[[2]int{captain, p}] {
			continue
		}
		accepts := true
		switch {
		case e.agreed[[2]int{captain, p}]:
		case p == e.us:
			accepts = w.weAccept(b, a, captain, last)
		case p <= last: // a captain itself
			accepts = w.accepts[p] < or(e.opt.Captains.Accept, 0.85)
		}
		if accepts {
			b.Take(captain, p)
			return
		}
		b.Refuse(p)
		last = b.LastCaptain()
	}
	b.Short(captain)
}

// weAccept is our own rule where an invitation of ours is not what is asked
// about: to stay captain if somebody at least as good as the inviting captain
// is likely to be left for us.
func (w *worker) weAccept(b *selection.Board, a, captain, last int) bool {
	e := w.e
	if e.us > last {
		return true
	}
	before := 1
	for p := range e.us {
		if p != captain && b.Free(p) && b.Joined(p) < 0 {
			before++
		}
	}
	better := 0
	for p, i := range e.index {
		if p != e.us && b.MayInvite(captain, p) && e.m.mean[i] >= e.m.mean[e.index[captain]] {
			better++
		}
	}
	return better <= before
}

// list is whom a captain would call in this world, best first.
func (w *worker) list(captain int) []int {
	if l, ok := w.lists[captain]; ok {
		return l
	}
	e := w.e
	w.source.Seed(e.opt.Seed^(w.round*0x9e3779b97f4a7c15), uint64(captain)+1)
	var l []int
	if n := len(w.spare); n > 0 {
		l, w.spare = w.spare[n-1], w.spare[:n-1]
	}
	for p := range e.index {
		w.keys[p] = e.utility[p] - math.Log(w.rng.ExpFloat64()) // Gumbel noise
		if p != captain {
			l = append(l, p)
		}
	}
	for k, p := range e.wants[captain] {
		w.keys[p] = 1e9 - float64(k)
	}
	slices.SortFunc(l, func(a, b int) int { return cmp.Compare(w.keys[b], w.keys[a]) })
	w.lists[captain] = l
	return l
}

// favourites is whom we would call, best first, by what it adds to the expected
// score of our alliance, caps and limits counted.
func (w *worker) favourites(b *selection.Board, captain int) []int {
	e := w.e
	members := w.with(b, captain)
	key := uint64(0)
	for _, i := range members {
		key = key*1021 + uint64(i+1)
	}
	if l, ok := w.greedy[key]; ok {
		return l
	}
	var l []int
	value := make([]float64, len(e.index))
	for p, i := range e.index {
		if p == e.us || p == captain || e.never[p] || e.refused[[2]int{e.us, p}] {
			continue
		}
		l = append(l, p)
		robots := w.lineup(append(members, i))
		for _, r := range robots {
			value[p] += e.m.mean[r]
		}
		value[p] -= w.caps.of(robots).loss
	}
	slices.SortStableFunc(l, func(a, b int) int { return cmp.Compare(value[b], value[a]) })
	w.greedy[key] = l
	return l
}

// with are the robots of the alliance of a captain that is on the clock. The
// slice has room for one more.
func (w *worker) with(b *selection.Board, captain int) []int {
	w.members = w.members[:0]
	if a := b.Joined(captain); a >= 0 {
		for _, p := range b.Members(a) {
			w.members = append(w.members, w.e.index[p])
		}
	} else {
		w.members = append(w.members, w.e.index[captain])
	}
	w.members = append(w.members, 0)
	return w.members[:len(w.members)-1]
}

// lineup is who plays: those that are expected to add most.
func (w *worker) lineup(members []int) []int {
	m := w.e.m
	w.robots = append(w.robots[:0], members...)
	if len(members) > m.size {
		slices.SortStableFunc(w.robots, func(a, b int) int { return cmp.Compare(m.mean[b], m.mean[a]) })
		w.robots = w.robots[:m.size]
	}
	return w.robots
}

// choice is whom we call now; none: nobody may be called.
func (w *worker) choice(b *selection.Board, captain int) int {
	for _, p := range w.favourites(b, captain) {
		if b.MayInvite(captain, p) {
			return p
		}
	}
	return none
}

// finish plays the selection to its end and goes through the playoff.
func (w *worker) finish(b *selection.Board) outcome {
	for w.advance(b) {
		_, c := b.Now()
		switch p := w.choice(b, c); {
		case p < 0:
			b.Short(c)
		case p <= b.LastCaptain() && w.accepts[p] >= or(w.e.opt.Captains.Accept, 0.85) && !w.e.agreed[[2]int{w.e.us, p}]:
			b.Refuse(p)
		default:
			b.Take(c, p)
		}
	}
	return w.playoff(b)
}

// playoff goes through the playoff of a board on which all picks are made.
func (w *worker) playoff(b *selection.Board) outcome {
	e := w.e
	us := b.Joined(e.us)
	if us < 0 {
		return outcome{}
	}
	n := e.format.Alliances
	_, fouls := e.m.fit.Fouls()
	for a := range n {
		w.sides[a] = side{mean: math.Inf(-1)}
		if a < e.board.Rules().Alliances && len(b.Members(a)) > 0 {
			w.members = w.members[:0]
			for _, p := range b.Members(a) {
				w.members = append(w.members, e.index[p])
			}
			robots := w.lineup(w.members)
			w.sides[a] = e.m.alliance(robots, w.world1, w.caps.of(robots))
		}
	}
	for a := range n {
		for c := a + 1; c < n; c++ {
			p := 0.5
			switch {
			case math.IsInf(w.sides[a].mean, -1):
				p = 0
			case math.IsInf(w.sides[c].mean, -1):
				p = 1
			default:
				p = wins(w.sides[a], w.sides[c], fouls)
			}
			w.game[a*n+c], w.game[c*n+a] = p, 1-p
		}
	}
	var out outcome
	if e.plans == nil {
		k := 0
		place := bracket.Walk(e.format, nil, func(_, red, blue int) bool {
			k++
			return w.luck[k%len(w.luck)] < w.game[red*n+blue]
		}, nil)[us]
		out.worth = e.places[place]
		if place == 0 {
			out.win = 1
		}
		if place < 2 {
			out.final = 1
		}
		return out
	}
	plan := e.plans[us]()
	if w.chances[us] == nil {
		w.chances[us] = plan.Chances()
	}
	c := w.chances[us]
	plan.Run(w.game, c)
	for k, p := range c.Place[us] {
		out.worth += p * e.places[k]
	}
	out.win = c.Place[us][0]
	out.final = out.win + c.Place[us][1]
	return out
}
