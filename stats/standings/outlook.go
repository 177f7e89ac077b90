package standings

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Options of a forecast of the standings.
type Options struct {
	Runs int    // at least 1
	Seed uint64 // equal seeds, equal answers
	// Team is ours: the one whose goals are asked for; empty: none.
	Team record.TeamID

	workers int // 0: one a core
}

// Report is what the command line prints.
type Report struct {
	Teams []Ending `json:"teams" nullable:"false"` // best expected rank first
	Runs  int      `json:"runs"`
}

// Ending is where a robot may end.
type Ending struct {
	Team     record.TeamID `json:"team"`
	MeanRank float64       `json:"mean_rank"`
	Rank     []float64     `json:"rank" nullable:"false"` // chance to end at place i+1
	Seeded   float64       `json:"seeded"`                // chance to be among the captains
	// RankingPoints is the expected mean per counted match at the end.
	RankingPoints float64 `json:"ranking_points"`
	// Best and Worst are the places within which it ends in 80 % of the runs.
	Best  int `json:"best"`
	Worst int `json:"worst"`
}

// Outlook is what many runs of the rest of the event say. It does not change
// once made.
type Outlook struct {
	Report
	Captains int // how many alliances there are; 0: the game does not say

	b        *board
	us       int // index of our team; −1: none
	rank     []uint16
	points   []float64 // ranking points that we got in the rest, by run
	bits     [][]uint64
	up, down [][]int32 // by condition: differences of counts by place; see effect
	what     []Happening
}

// chunk is how many runs have a random source together: whole words of bits.
const chunk = 256

// ErrTeam says that the team asked for is not at the event.
var ErrTeam = errors.New("the team is not at this event")

// Forecast plays what is left of the qualification, opt.Runs times, from fit,
// which must be an estimate of ev. Its errors: ErrTeam, and what a game or an
// event that was not checked brings about. It stops early when ctx ends.
func Forecast(ctx context.Context, ev *record.Event, fit *contrib.Fit, opt Options) (*Outlook, error) {
	b := newBoard(ev)
	for _, m := range b.rest {
		for _, side := range m.sides {
			for _, i := range side.plays {
				if k, ok := fit.Index(b.teams[i]); !ok || k != i {
					return nil, fmt.Errorf("match %s: the estimate is not one of this event: it does not know team %s", m.match.ID, b.teams[i])
				}
			}
		}
	}
	return playOut(ctx, b, simulatedFrom(b, fit), opt)
}

func playOut(ctx context.Context, b *board, from source, opt Options) (*Outlook, error) {
	if opt.Runs < 1 {
		return nil, fmt.Errorf("runs is %d: at least 1", opt.Runs)
	}
	if len(b.g.RankingPoints) > maxRankingPoints || len(b.teams) > math.MaxUint16 {
		return nil, fmt.Errorf("%d ranking points and %d teams: too many", len(b.g.RankingPoints), len(b.teams))
	}
	o := &Outlook{b: b, us: -1, Report: Report{Runs: opt.Runs}}
	if b.g.Selection != nil {
		o.Captains = b.g.Selection.Alliances
	}
	if opt.Team != "" {
		i, ok := b.index[opt.Team]
		if !ok {
			return nil, fmt.Errorf("%w: %s", ErrTeam, opt.Team)
		}
		o.us = i
		o.prepare()
	}
	n, chunks := len(b.teams), (opt.Runs+chunk-1)/chunk
	places, sums := make([]int32, n*n), make([][]float64, chunks)
	var next atomic.Int64
	var mu sync.Mutex
	var group sync.WaitGroup
	workers := opt.workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	for range min(workers, chunks) {
		group.Go(func() {
			w := newWorker(o, from)
			for {
				c := int(next.Add(1)) - 1
				if c >= chunks || ctx.Err() != nil {
					break
				}
				sums[c] = w.chunk(c, opt)
			}
			mu.Lock()
			defer mu.Unlock()
			w.give(places)
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	o.tell(places, sums)
	return o, nil
}

// tell makes the report: counts of places by team, and sums of final ranking
// points by chunk, which are added in order so that the cores do not matter.
func (o *Outlook) tell(places []int32, sums [][]float64) {
	n := len(o.b.teams)
	o.Teams = make([]Ending, n)
	for i := range n {
		t := Ending{Team: o.b.teams[i], Rank: make([]float64, n)}
		var below float64
		for k := range n {
			p := float64(places[i*n+k]) / float64(o.Runs)
			t.Rank[k] = p
			t.MeanRank += p * float64(k+1)
			if k < o.Captains {
				t.Seeded += p
			}
			if below <= 0.1 && below+p > 0.1 {
				t.Best = k + 1
			}
			if below < 0.9-1e-12 && below+p >= 0.9-1e-12 {
				t.Worst = k + 1
			}
			below += p
		}
		for _, s := range sums {
			t.RankingPoints += s[i] / float64(o.Runs)
		}
		o.Teams[i] = t
	}
	slices.SortStableFunc(o.Teams, func(x, y Ending) int { return cmp.Compare(x.MeanRank, y.MeanRank) })
}

// worker plays and ranks. It has its own memory and makes none per run.
type worker struct {
	o      *Outlook
	b      *board
	seed   *rand.PCG
	rng    *rand.Rand
	source drawer
	lines  []line
	sum    []float64 // by team and step
	n      []float64 // how many matches sum is of
	total  []float64 // ranking points by team
	key    []float64 // means, rounded, by team and step
	lot    []uint64
	order  []int
	place  []int // by team: how many come before it; only with a team of ours
	places []int32
	up     [][]int32
	down   [][]int32
	value  []float64 // points of each ranking point
	byStep int       // where ranking points stand in the order; −1: nowhere
}

func newWorker(o *Outlook, from source) *worker {
	b := o.b
	n, s := len(b.teams), len(b.steps)
	w := &worker{
		o: o, b: b, seed: rand.NewPCG(0, 0), lines: make([]line, 2*len(b.rest)), sum: make([]float64, n*s), n: make([]float64, n*s),
		total: make([]float64, n), key: make([]float64, n*s), lot: make([]uint64, n), order: make([]int, n), place: make([]int, n), places: make([]int32, n*n),
		byStep: slices.Index(b.steps, byPoints),
	}
	w.rng = rand.New(w.seed)
	w.source = from(w.rng)
	for i := range w.lines {
		w.lines[i].parts = make([]float64, s)
	}
	for i := range b.g.RankingPoints {
		w.value = append(w.value, b.g.RankingPoints[i].Points)
	}
	for range o.what {
		w.up, w.down = append(w.up, make([]int32, n+1)), append(w.down, make([]int32, n+1))
	}
	return w
}

// chunk plays the runs of chunk c and returns the sums of final means of
// ranking points by team.
func (w *worker) chunk(c int, opt Options) []float64 {
	w.seed.Seed(opt.Seed, uint64(c))
	means := make([]float64, len(w.b.teams))
	for run := c * chunk; run < min((c+1)*chunk, opt.Runs); run++ {
		w.source.draw(w.lines)
		for i := range w.lot {
			w.lot[i] = w.rng.Uint64()
		}
		w.play()
		for i := range w.order {
			w.order[i] = i
		}
		slices.SortFunc(w.order, w.compare)
		for k, i := range w.order {
			w.places[i*len(w.order)+k]++
		}
		for i := range means {
			if w.b.counted[i] > 0 {
				means[i] += w.total[i] / float64(w.b.counted[i])
			}
		}
		if w.o.us >= 0 {
			w.ours(run)
		}
	}
	return means
}

// play adds the drawn matches to what was played.
func (w *worker) play() {
	b, s := w.b, len(w.b.steps)
	copy(w.sum, b.past)
	copy(w.n, b.knownPast)
	copy(w.total, b.pointsPast)
	for m := range b.rest {
		for side := range 2 {
			l := &w.lines[2*m+side]
			points := w.worth(l.gained)
			for k, step := range b.steps {
				switch step {
				case byPoints:
					l.parts[k] = points
				case byScore:
					l.parts[k] = l.score
				}
			}
			for _, i := range b.rest[m].sides[side].counts {
				w.total[i] += points
				for k := range s {
					w.sum[i*s+k] += l.parts[k]
					w.n[i*s+k]++
				}
			}
		}
	}
	for i := range w.sum {
		w.key[i] = 0
		if w.n[i] > 0 {
			w.key[i] = rounded(w.sum[i] / w.n[i])
		}
	}
}

func (w *worker) worth(gained uint64) (sum float64) {
	for k, v := range w.value {
		if gained>>k&1 == 1 {
			sum += v
		}
	}
	return sum
}

// compare orders robots, the best first.
func (w *worker) compare(i, j int) int {
	if (w.b.counted[i] > 0) != (w.b.counted[j] > 0) {
		return cmp.Compare(w.b.counted[j], w.b.counted[i])
	}
	s := len(w.b.steps)
	x, y := w.key[i*s:i*s+s], w.key[j*s:j*s+s]
	for k, a := range x {
		if b := y[k]; a != b {
			if a > b {
				return -1
			}
			return 1
		}
	}
	return cmp.Compare(w.lot[i], w.lot[j])
}

// give adds what was counted to the whole. It is called once, under a lock.
func (w *worker) give(places []int32) {
	for i, n := range w.places {
		places[i] += n
	}
	for c := range w.up {
		for k := range w.up[c] {
			w.o.up[c][k] += w.up[c][k]
			w.o.down[c][k] += w.down[c][k]
		}
	}
}
