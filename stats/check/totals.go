package check

import (
	"math"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// maxChannels bounds how many official figures of an alliance are looked at:
// its own score and the first components of the game.
const maxChannels = 6

type (
	vector [maxChannels]float64
	matrix [maxChannels][maxChannels]float64
)

// totals lay what scouts wrote beside what the venue published, figure by
// figure, and know by how much the two usually differ at this event.
type totals struct {
	t        *table
	channels []channel
	shift    vector // official − scouted, usually
	spread   matrix
	sides    [][2]*side
}

// channel is one official figure: what each cell adds to it.
type channel struct {
	component string // "" the own score
	unit      []float64
	option    [][]float64
}

// side is what an alliance's records leave unexplained.
type side struct {
	known  [maxChannels]bool // published
	rest   vector            // official − scouted
	extra  matrix            // variance of what was filled in
	usual  float64           // log likelihood as it stands
	filled bool              // robots that nobody watched were filled in
}

const (
	tailsOf  = 5.0 // degrees of freedom: other mistakes of the alliance are in the tails
	capDoubt = 0.5 // of what a cap took off, as the estimates have it
	showing  = 0.93
)

func newTotals(t *table) *totals {
	u := &totals{t: t, sides: make([][2]*side, len(t.plays))}
	u.layChannels()
	scorer := game.NewScorer(t.g)
	for i := range t.plays {
		if t.plays[i].counts && t.watched(i) {
			u.sides[i] = u.compare(i, scorer)
		}
	}
	u.learn()
	for i := range u.sides {
		for _, s := range u.sides[i] {
			if s != nil {
				s.usual = u.log(s, s.rest, &s.extra)
			}
		}
	}
	return u
}

// watched: somebody wrote something about this play.
func (t *table) watched(play int) bool {
	return slices.ContainsFunc(t.plays[play].rows, func(ids []int) bool { return len(ids) > 0 })
}

func (u *totals) layChannels() {
	blank := func(id string) channel {
		return channel{component: id, unit: make([]float64, len(u.t.cells)), option: make([][]float64, len(u.t.cells))}
	}
	own := blank("")
	for k := range u.t.cells {
		if c := &u.t.cells[k]; c.action >= 0 && !c.missed {
			own.unit[k], own.option[k] = c.points, c.option
		}
	}
	u.channels = append(u.channels, own)
	for i := range u.t.g.Components {
		if len(u.channels) == maxChannels {
			break
		}
		c := &u.t.g.Components[i]
		ch := blank(c.ID)
		for k := range u.t.cells {
			cell := &u.t.cells[k]
			switch {
			case cell.action < 0 || cell.missed:
			case slices.Contains(c.Sum, cell.id):
				ch.unit[k], ch.option[k] = cell.points, cell.option
			case slices.Contains(c.Count, cell.id) && cell.kind != choiceCell:
				ch.unit[k] = 1
			}
		}
		u.channels = append(u.channels, ch)
	}
}

func (c *channel) value(k int, x float64) float64 {
	if o := c.option[k]; o != nil {
		return o[min(max(0, int(x)), len(o)-1)]
	}
	return c.unit[k] * x
}

// of is what a row adds to each figure; what it leaves empty is as expected.
func (u *totals) of(r *row, e *expected) (v vector) {
	for k := range u.t.cells {
		x := r.vals[k]
		for c := range u.channels {
			if math.IsNaN(x) {
				m, _ := u.cell(c, k, e, r.exposed(&u.t.cells[k]))
				v[c] += m
			} else {
				v[c] += u.channels[c].value(k, x)
			}
		}
	}
	return v
}

// cell is mean and the weight of the spread of one cell in a figure.
func (u *totals) cell(c, k int, e *expected, w float64) (mean, weight float64) {
	ch := &u.channels[c]
	switch u.t.cells[k].kind {
	case choiceCell:
		for o, p := range e.chance[k] {
			if ch.option[k] != nil {
				mean += p * ch.option[k][o]
			}
		}
		return mean, 1
	case flagCell:
		return ch.unit[k] * e.chance[k][1], ch.unit[k]
	}
	return ch.unit[k] * e.rate[k] * w, ch.unit[k]
}

// expect is what a robot that nobody watched adds, and its variance.
func (u *totals) expect(e *expected) (m vector, v matrix) {
	var counts vector
	for k := range u.t.cells {
		cell := &u.t.cells[k]
		var variance float64
		switch cell.kind {
		case countCell:
			variance = e.rate[k] + u.t.profiles.prior[k].over*square(e.rate[k]) + e.variance[k]
		case flagCell:
			variance = e.chance[k][1] * e.chance[k][0]
		}
		var weight, mean vector
		for c := range u.channels {
			mean[c], weight[c] = u.cell(c, k, e, showing)
			m[c] += mean[c]
			if cell.kind == countCell {
				counts[c] += mean[c]
			}
		}
		for c := range u.channels {
			for d := range u.channels {
				if cell.kind != choiceCell {
					v[c][d] += weight[c] * weight[d] * variance
					continue
				}
				if u.channels[c].option[k] == nil || u.channels[d].option[k] == nil {
					continue
				}
				for o, p := range e.chance[k] {
					v[c][d] += p * (u.channels[c].option[k][o] - mean[c]) * (u.channels[d].option[k][o] - mean[d])
				}
			}
		}
	}
	for c := range u.channels {
		for d := range u.channels {
			v[c][d] += square(formSD) * counts[c] * counts[d]
		}
	}
	return m, v
}

// seat is what the robot of a seat adds, rows left out that without says.
func (u *totals) seat(play, seat int, without *row) (m vector, v matrix, filled bool) {
	p := &u.t.plays[play]
	robot := p.seats[seat]
	if p.absent[seat] || robot < 0 {
		return m, v, robot < 0
	}
	e := u.t.profiles.of(robot, play)
	n := 0.0
	for _, id := range p.rows[seat] {
		r := u.t.rows[id]
		if r == without || r.half {
			continue
		}
		n++
		if r.absent {
			continue
		}
		for c, x := range u.of(r, e) {
			m[c] += x
		}
	}
	if n == 0 {
		m, v = u.expect(e)
		return m, v, true
	}
	for c := range m {
		m[c] /= n
	}
	return m, v, false
}

// compare lays both alliances of a play beside their official figures.
func (u *totals) compare(play int, scorer *game.Scorer) (out [2]*side) {
	p := &u.t.plays[play]
	var sum [2]vector
	var played [2]game.Played
	for k, s := range p.seats {
		at := p.side(k)
		if out[at] == nil {
			out[at] = &side{}
		}
		m, v, filled := u.seat(play, k, nil)
		out[at].filled = out[at].filled || filled
		for c := range m {
			sum[at][c] += m[c]
			for d := range m {
				out[at].extra[c][d] += v[c][d]
			}
		}
		if s >= 0 {
			played[at].Robots = append(played[at].Robots, u.robot(play, k))
		}
	}
	scored := [2]game.Scored{}
	scored[0], scored[1] = scorer.Score(played[0], played[1])
	for at, colour := range []record.Colour{record.Red, record.Blue} {
		r := p.match.Side(colour).Result
		s := out[at]
		if s == nil || r == nil {
			out[at] = nil
			continue
		}
		for c := range u.channels {
			id := u.channels[c].component
			official, credited := r.Own(), scored[at].Points-scored[at].FromFouls
			s.known[c] = true
			if id != "" {
				official, s.known[c] = r.Components[id]
				credited = scored[at].Components[id]
			}
			off := sum[at][c] - credited
			s.rest[c] = official - (sum[at][c] - off)
			s.extra[c][c] += square(capDoubt * math.Max(0, off))
		}
	}
	return out
}

// side of a seat: 0 red, 1 blue.
func (p *play) side(seat int) int {
	if seat < p.red {
		return 0
	}
	return 1
}

// robot is what the robot of a seat did, for scoring.
func (u *totals) robot(play, seat int) game.Robot {
	out := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
	p := &u.t.plays[play]
	if p.absent[seat] {
		return out
	}
	e := u.t.profiles.of(p.seats[seat], play)
	for k := range u.t.cells {
		c := &u.t.cells[k]
		if c.action < 0 || c.missed {
			continue
		}
		var x, n float64
		for _, id := range p.rows[seat] {
			if r := u.t.rows[id]; !r.half && (r.absent || !math.IsNaN(r.vals[k])) {
				n++
				if !r.absent {
					x += r.vals[k]
				}
			}
		}
		switch {
		case c.kind == choiceCell:
			at := 0
			if n > 0 {
				at = min(int(math.Round(x/n)), len(c.names)-1)
			} else {
				for o := range e.chance[k] {
					if e.chance[k][o] > e.chance[k][at] {
						at = o
					}
				}
			}
			out.Choices[c.id] = c.names[at]
		case n > 0:
			out.Counts[c.id] = math.Round(x / n)
		case c.kind == flagCell:
			out.Counts[c.id] = math.Round(e.chance[k][1])
		default:
			out.Counts[c.id] = math.Round(e.rate[k] * showing)
		}
	}
	return out
}

// learn finds how far official figures and records usually differ: the middle
// and the spread of alliances that were watched in full, those far out drawn
// in to where nineteen in twenty are, leaning on a tenth of what alliances make while there are few.
func (u *totals) learn() {
	var rests []vector
	var level vector
	for i := range u.sides {
		for _, s := range u.sides[i] {
			if s != nil && !s.filled {
				rests = append(rests, s.rest)
			}
		}
	}
	var scale vector // beyond which a difference is drawn in
	for c := range u.channels {
		var xs []float64
		for _, r := range rests {
			xs = append(xs, r[c])
		}
		u.shift[c] = median(xs)
		for i := range xs {
			xs[i] = math.Abs(xs[i] - u.shift[c])
		}
		// Most small figures fit to the point, and some are one unit off.
		slices.Sort(xs)
		scale[c] = math.Max(0.5, 2.5*1.4826*median(xs))
		if n := len(xs); n > 0 {
			scale[c] = math.Max(scale[c], xs[int(0.95*float64(n-1))])
		}
		n := 1.0
		for i := range u.t.plays {
			if !u.t.plays[i].counts {
				continue
			}
			for _, colour := range []record.Colour{record.Red, record.Blue} {
				r := u.t.plays[i].match.Side(colour).Result
				x := r.Own()
				if id := u.channels[c].component; id != "" {
					x = r.Components[id]
				}
				level[c] += math.Abs(x)
				n++
			}
		}
		level[c] /= n
	}
	const lean = 8.0
	n := float64(len(rests)) + lean
	for _, r := range rests {
		for c := range u.channels {
			for d := range u.channels {
				u.spread[c][d] += clip(r[c]-u.shift[c], scale[c]) * clip(r[d]-u.shift[d], scale[d]) / n
			}
		}
	}
	for c := range u.channels {
		u.spread[c][c] += lean/n*square(0.1*level[c]) + 0.25
	}
}

func clip(x, most float64) float64 { return math.Max(-most, math.Min(most, x)) }

func median(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// log is the log likelihood of an alliance's rest, up to a constant: Student's
// t law in as many dimensions as figures were published.
func (u *totals) log(s *side, rest vector, extra *matrix) float64 {
	var l matrix // Cholesky
	var z vector
	n, det, q := 0, 0.0, 0.0
	var at [maxChannels]int
	for c := range u.channels {
		if s.known[c] {
			at[n] = c
			n++
		}
	}
	for i := range n {
		c := at[i]
		x := rest[c] - u.shift[c]
		for j := 0; j <= i; j++ {
			d := at[j]
			v := u.spread[c][d] + extra[c][d]
			for k := range j {
				v -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(math.Max(v, 0.05))
			} else {
				l[i][j] = v / l[j][j]
			}
		}
		for k := range i {
			x -= l[i][k] * z[k]
		}
		z[i] = x / l[i][i]
		q += z[i] * z[i]
		det += math.Log(l[i][i])
	}
	return -det - (tailsOf+float64(n))/2*math.Log1p(q/tailsOf)
}

// without is how much better the official figures go with row r struck out
// than with it, and what then takes its place.
func (u *totals) without(r *row) float64 {
	s := u.sides[r.play][u.t.plays[r.play].side(r.seat)]
	if s == nil {
		return 0
	}
	m, v, _ := u.seat(r.play, r.seat, nil)
	n, w, _ := u.seat(r.play, r.seat, r)
	rest, extra := s.rest, s.extra
	for c := range u.channels {
		rest[c] += m[c] - n[c]
		for d := range u.channels {
			extra[c][d] += w[c][d] - v[c][d]
		}
	}
	return u.log(s, rest, &extra) - s.usual
}

// moved is how much better they go when a row adds so much more than it says.
func (u *totals) moved(r *row, by vector, variance *matrix) float64 {
	s := u.sides[r.play][u.t.plays[r.play].side(r.seat)]
	if s == nil {
		return 0
	}
	n := 0.0
	for _, id := range u.t.plays[r.play].rows[r.seat] {
		if !u.t.rows[id].half {
			n++
		}
	}
	n = math.Max(1, n)
	rest, extra := s.rest, s.extra
	for c := range u.channels {
		rest[c] -= by[c] / n
		for d := range u.channels {
			if variance != nil {
				extra[c][d] += variance[c][d] / (n * n)
			}
		}
	}
	return u.log(s, rest, &extra) - s.usual
}
