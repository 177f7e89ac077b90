package worth

import (
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/selection"
)

// Pin is something that is known of how others will choose.
type Pin struct {
	Captain record.TeamID `json:"captain"`
	Team    record.TeamID `json:"team"`
	// Kind: wants (the captain calls the team if it can), agreed (it does, and
	// the team accepts), refused (the captain never calls the team, or the team
	// would decline).
	Kind string `json:"kind"`
}

// The kinds of a pin.
const (
	Wants   = "wants"
	Agreed  = "agreed"
	Refused = "refused"
)

// Captains say how the other captains are taken to choose. The defaults are
// plausible choices, not measurements; common practice, no source.
type Captains struct {
	// Estimate is how much a captain goes by the expected contribution, 0 to 1;
	// the rest is the public ranking. Default 0.5.
	Estimate *float64 `json:"estimate,omitempty"`
	// Sharpness is how firmly: points of utility for a standard deviation of the
	// blend. 0 is a lottery, 10 next to certain. Default 3.
	Sharpness *float64 `json:"sharpness,omitempty"`
	// Accept is the chance that an invited captain accepts. Default 0.85.
	Accept *float64 `json:"accept,omitempty"`
}

func or(v *float64, otherwise float64) float64 {
	if v == nil {
		return otherwise
	}
	return *v
}

// Options of an Evaluation.
type Options struct {
	Our record.TeamID
	// Worth is what a final place, from 1, is worth to us; nil: 1 for winning.
	Worth    func(place int) float64
	Captains Captains
	Pins     []Pin
	Never    []record.TeamID // whom we never call; they are no candidates
	Seed     uint64
	Workers  int // goroutines; 0: one a core
}

// none stands in second for: we chose nobody after it.
const none = -1

// Evaluation draws worlds and keeps what every candidate was worth in each. It
// is for one goroutine, and uses several inside.
type Evaluation struct {
	m       *model
	opt     Options
	board   *selection.Board
	index   []int                  // robot by place in the ranking
	placeOf []int                  // in the ranking, by robot; −1
	us      int                    // our place
	turn    int                    // the alliance on the clock, −1: none
	captain int                    // and the place of its captain
	plans   []func() *bracket.Plan // by our alliance, made when needed; nil: too large
	format  *bracket.Format
	places  []float64 // worth by index in the plan's places
	utility []float64 // by place: how captains see it before noise
	wants   map[int][]int
	agreed  map[[2]int]bool
	refused map[[2]int]bool
	never   []bool // by place

	candidates []int // places
	workers    []*worker
	runs       int
	batch      int // worlds of the last step of Refine
	// By world and candidate; NaN: not there at our turn.
	worth, win, final []float32
	second            []int16 // place of our next pick
	here              []int8  // by world and candidate: 1 there at our next turn, 0 not, −1 no such turn
	invited           []invited
}

// invited are both futures in one world.
type invited struct{ accept, decline outcome }

// outcome is what we end with.
type outcome struct{ worth, win, final float64 }

// New prepares. The board is where the selection stands; it is not changed.
// Errors: a team of the ranking, our own team or a pinned one that is not known.
func New(fit *contrib.Fit, board *selection.Board, opt Options) (*Evaluation, error) {
	e := &Evaluation{m: newModel(fit, opt.Seed), opt: opt, board: board.Clone(), us: none,
		wants: map[int][]int{}, agreed: map[[2]int]bool{}, refused: map[[2]int]bool{}}
	ranking := board.Ranking()
	places := map[record.TeamID]int{}
	e.placeOf = make([]int, e.m.n)
	for i := range e.placeOf {
		e.placeOf[i] = none
	}
	for p, t := range ranking {
		i, ok := fit.Index(t)
		if !ok {
			return nil, fmt.Errorf("team %s of the ranking is not at the event; correct the number", t)
		}
		e.index, places[t] = append(e.index, i), p
		e.placeOf[i] = p
	}
	place := func(t record.TeamID) (int, error) {
		p, ok := places[t]
		if !ok {
			return 0, fmt.Errorf("team %s is not in the ranking; correct the number", t)
		}
		return p, nil
	}
	var err error
	if e.us, err = place(opt.Our); err != nil {
		return nil, err
	}
	// Asked once, before there are workers: Now moves the board it is asked of.
	e.turn, e.captain = e.board.Now()
	e.never = make([]bool, len(ranking))
	for _, t := range opt.Never {
		if p, ok := places[t]; ok {
			e.never[p] = true
		}
	}
	for _, pin := range opt.Pins {
		c, err := place(pin.Captain)
		if err != nil {
			return nil, err
		}
		t, err := place(pin.Team)
		if err != nil {
			return nil, err
		}
		switch pin.Kind {
		case Agreed:
			e.agreed[[2]int{c, t}] = true
			e.wants[c] = append([]int{t}, e.wants[c]...)
		case Wants:
			e.wants[c] = append(e.wants[c], t)
		case Refused:
			e.refused[[2]int{c, t}] = true
		default:
			return nil, fmt.Errorf("%q is no pin: write %s, %s or %s", pin.Kind, Wants, Agreed, Refused)
		}
	}
	if err := e.playoff(); err != nil {
		return nil, err
	}
	e.utilities()
	for p := range ranking {
		if e.board.Free(p) && p != e.us && !e.never[p] && !slices.Contains(board.Declined(), ranking[p]) && !e.refused[[2]int{e.us, p}] {
			e.candidates = append(e.candidates, p)
		}
	}
	workers := opt.Workers
	if workers == 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	for range max(workers, 1) {
		e.workers = append(e.workers, e.newWorker())
	}
	return e, nil
}

// playoff prepares the bracket and what its places are worth.
func (e *Evaluation) playoff() error {
	n := e.board.Rules().Alliances
	f, err := bracket.FormatOf(e.m.g.Playoff, max(n, 2))
	if err != nil {
		return err
	}
	e.format = f
	_, err = bracket.NewPlanFor(f, nil, 0)
	if err != nil && !errors.Is(err, bracket.ErrLarge) {
		return err
	}
	for a := range n {
		if err != nil {
			break
		}
		e.plans = append(e.plans, sync.OnceValue(func() *bracket.Plan {
			p, err := bracket.NewPlanFor(f, nil, a)
			if err != nil {
				panic(err) // the one above was made
			}
			return p
		}))
	}
	worth := e.opt.Worth
	if worth == nil {
		worth = (&game.EventSettings{}).PlaceWorth
	}
	for _, p := range f.Places() {
		sum := 0.0
		for k := p.First; k <= p.Last; k++ {
			sum += worth(k)
		}
		e.places = append(e.places, sum/float64(p.Last-p.First+1))
	}
	return nil
}

// utilities is how good a robot looks to a captain: the blend of the public
// rank and the expected points, both in standard deviations.
func (e *Evaluation) utilities() {
	n := float64(len(e.index))
	var mean, square float64
	for _, i := range e.index {
		mean += e.m.mean[i] / n
		square += e.m.mean[i] * e.m.mean[i] / n
	}
	sd := math.Sqrt(max(square-mean*mean, 1e-12))
	blend, sharp := or(e.opt.Captains.Estimate, 0.5), or(e.opt.Captains.Sharpness, 3)
	rankSD := math.Sqrt(max((n*n-1)/12, 1e-12)) // of the numbers 1 to n
	for p, i := range e.index {
		rank := ((n-1)/2 - float64(p)) / rankSD
		e.utility = append(e.utility, sharp*(blend*(e.m.mean[i]-mean)/sd+(1-blend)*rank))
	}
}

// Runs is how many worlds were drawn.
func (e *Evaluation) Runs() int { return e.runs }

// Run draws so many worlds more. The error is that of ctx; worlds that were
// drawn by then are lost, those of earlier calls are not.
func (e *Evaluation) Run(ctx context.Context, worlds int) error {
	c := len(e.candidates)
	first := e.runs
	grow := func(s []float32) []float32 { return append(s, make([]float32, worlds*c)...) }
	worth, win, final := grow(e.worth), grow(e.win), grow(e.final)
	second := append(e.second, make([]int16, worlds*c)...)
	here := append(e.here, make([]int8, worlds*c)...)
	inv := append(e.invited, make([]invited, worlds)...)
	var wg sync.WaitGroup
	for k, w := range e.workers {
		wg.Go(func() {
			for r := first + k; r < first+worlds && ctx.Err() == nil; r += len(e.workers) {
				at := r * c
				w.world(r, row{worth[at : at+c], win[at : at+c], final[at : at+c], second[at : at+c], here[at : at+c], &inv[r]})
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	e.worth, e.win, e.final, e.second, e.here, e.invited = worth, win, final, second, here, inv
	e.runs += worlds
	return nil
}

// The batches of Refine: the first picture soon, then fewer interruptions.
const (
	firstBatch = 32
	mostBatch  = 256
)

// Refine draws worlds until no candidate's standard error is above se, or most
// worlds are drawn. Show, if not nil, is called after each batch; it ends the
// work by returning false.
func (e *Evaluation) Refine(ctx context.Context, se float64, most int, show func(*record.Advice) bool) (*record.Advice, error) {
	for {
		a, done, err := e.step(ctx, se, most)
		if err != nil {
			return nil, err
		}
		if show != nil && !show(a) || done {
			return a, nil
		}
	}
}

// step is one batch of Refine; done: it was the last.
func (e *Evaluation) step(ctx context.Context, se float64, most int) (a *record.Advice, done bool, err error) {
	e.batch = min(max(2*e.batch, firstBatch), mostBatch)
	if err := e.Run(ctx, max(1, min(e.batch, most-e.runs))); err != nil {
		return nil, false, err
	}
	a = e.Advice()
	return a, e.runs >= most || e.runs >= 2*firstBatch && a.SE <= se, nil
}
