package engine

import (
	"container/list"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"sync"
	"time"

	"github.com/google/uuid"
	"golang.org/x/sync/singleflight"

	"sextant/stats/backtest"
	"sextant/stats/brief"
	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/store"
)

// ErrUnsolvable says that the numbers of an event are so extreme that no
// estimate can be made of them: most likely a score was mistyped.
var ErrUnsolvable = errors.New("the numbers of this event cannot be brought together in an estimate")

// Options configure an Engine.
type Options struct {
	Store  *store.DB
	Logger *slog.Logger
	// Settle is how long the engine waits after a change for more of them.
	Settle time.Duration
	// Build names the build of the program; an analysis that another build kept
	// is not used. Empty: nothing is read from the store or kept there.
	Build string
	// Pause is how long further analyses that nobody waits for leave the cores to
	// those who fetch the estimates and the first picture.
	Pause time.Duration
	// Done, if not nil, is called after a new analysis of an event was made, with
	// what it is of. It must not block.
	Done func(event uuid.UUID, what Part, dataNo int64)
	// Took, if not nil, is told how long each analysis took.
	Took func(time.Duration)
}

// Part is what an analysis is of.
type Part string

// The parts that are told of when they are made. All else that the engine tells
// follows from the estimates when it is asked for.
const (
	OfEstimates   Part = "estimates" // with forecasts and judgements
	OfStandings   Part = "standings"
	OfCalibration Part = "calibration"
	OfTruth       Part = "truth"
)

// Analysis is what is known about an event at one state of its data. It is
// shared: nobody may change it.
type Analysis struct {
	DataNo    int64             `json:"data_no"`
	Estimate  record.Estimate   `json:"estimate"`
	Forecasts []record.Forecast `json:"forecasts"` // matches that are not played, in playing order
	// Together are the covariances, in points², of what is not known of Now: row i
	// has those of team i of Estimate with the teams before it.
	Together [][]float64 `json:"together"`
	// Judgements has a scale for each question over all robots of a match.
	Judgements []record.JudgementScale `json:"judgements"`
}

// maxEvents is how many events' analyses stay in memory.
const maxEvents = 64

// Engine makes and keeps analyses. Safe for concurrent use.
type Engine struct {
	opt     Options
	options contrib.Options
	hash    string // of options
	ctx     context.Context
	stop    context.CancelFunc
	flights singleflight.Group
	turn    chan struct{} // one computation at a time: it takes all cores
	running sync.WaitGroup

	mu     sync.Mutex
	kept   map[uuid.UUID]*list.Element // of *entry
	recent *list.List                  // most recently used first
	due    map[uuid.UUID]bool          // a computation is waiting for Settle
	closed bool

	standings   *derived[*Standings]
	calibration *derived[*backtest.Calibration]
	truth       *derived[*check.Survey]
	briefs      *memo[brief.Brief]
	brackets    *memo[record.Bracket]
}

// entry is the newest analysis of an event, or why there is none.
type entry struct {
	event  uuid.UUID
	dataNo int64
	made   *Analysis
	model  *Model // nil: made has come from the store
	err    error
}

// New returns an Engine. Close it when done.
func New(opt Options) *Engine {
	ctx, stop := context.WithCancel(context.Background())
	e := &Engine{
		opt: opt, ctx: ctx, stop: stop, turn: make(chan struct{}, 1),
		kept: map[uuid.UUID]*list.Element{}, recent: list.New(), due: map[uuid.UUID]bool{},
	}
	text, err := json.Marshal(e.options)
	if err != nil {
		panic(err) // plain data
	}
	sum := sha256.Sum256(text)
	e.hash = hex.EncodeToString(sum[:8])
	e.standings = newDerived(e, OfStandings, rank)
	e.standings.first = rankFirst
	e.calibration = newDerived(e, OfCalibration, calibrate)
	e.truth = newDerived(e, OfTruth, doubt)
	e.briefs = newMemo[brief.Brief]()
	e.brackets = newMemo[record.Bracket]()
	return e
}

// Close ends waiting computations and waits for a running one.
func (e *Engine) Close() {
	e.mu.Lock()
	e.closed = true
	e.mu.Unlock()
	e.stop()
	e.running.Wait()
}

// Key names what an analysis depends on beside the data number.
func (e *Engine) Key() string { return e.opt.Build + "-" + e.hash }

// Analysis returns the newest analysis of an event, and whether nothing has
// changed since. If it is old, a new one is being computed. Only the first
// call for an event that has none waits for the computation. Its errors are
// store.ErrNotFound, ErrUnsolvable and the end of ctx.
func (e *Engine) Analysis(ctx context.Context, event uuid.UUID) (a *Analysis, current bool, err error) {
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, false, err
	}
	found := e.get(event)
	if found == nil {
		if found, err = e.fromStore(ctx, event); err != nil {
			return nil, false, err
		}
	}
	if found == nil {
		found, err = e.wait(ctx, event)
		if err != nil {
			return nil, false, err
		}
	}
	current = found.dataNo >= ev.DataNo
	if !current {
		e.Touch(event)
	}
	return found.made, current, found.err
}

// fromStore looks for an analysis that an earlier run or another process kept.
func (e *Engine) fromStore(ctx context.Context, event uuid.UUID) (*entry, error) {
	if e.opt.Build == "" {
		return nil, nil
	}
	dataNo, body, err := e.opt.Store.LatestAnalysis(ctx, event, e.opt.Build, e.hash)
	if errors.Is(err, store.ErrNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	a := &Analysis{}
	if err := json.Unmarshal(body, a); err != nil {
		return nil, fmt.Errorf("read the kept analysis %d: %w", dataNo, err)
	}
	return e.put(&entry{event: event, dataNo: dataNo, made: a}), nil
}

// Touch says that an event has probably changed: if an analysis of it is in
// use and old, a new one is made after Settle. It never blocks.
func (e *Engine) Touch(event uuid.UUID) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.closed || e.due[event] || e.kept[event] == nil {
		return
	}
	e.due[event] = true
	e.running.Add(1)
	timer := time.NewTimer(e.opt.Settle)
	go func() {
		defer e.running.Done()
		defer timer.Stop()
		select {
		case <-e.ctx.Done():
			return
		case <-timer.C:
		}
		e.mu.Lock()
		delete(e.due, event)
		e.mu.Unlock()
		e.renew(event)
	}()
}

// renew makes a new analysis if the data have changed.
func (e *Engine) renew(event uuid.UUID) {
	ev, err := e.opt.Store.Event(e.ctx, event)
	if err == nil {
		if have := e.get(event); have != nil && have.dataNo >= ev.DataNo {
			return
		}
		var made *entry
		if made, err = e.wait(e.ctx, event); err == nil && made.dataNo < ev.DataNo {
			e.Touch(event) // it joined a computation that had begun before
		}
	}
	if err != nil && e.ctx.Err() == nil {
		e.opt.Logger.Error("an analysis could not be renewed; the next change or request tries again", "event", event, "error", err)
	}
}

// wait joins or starts the computation for an event. Who leaves early does not
// end it for the others.
func (e *Engine) wait(ctx context.Context, event uuid.UUID) (*entry, error) {
	result := e.flights.DoChan(event.String(), func() (any, error) {
		select {
		case e.turn <- struct{}{}:
			defer func() { <-e.turn }()
		case <-e.ctx.Done():
			return nil, e.ctx.Err()
		}
		// Who asked when there was none may come only after it was made.
		ev, err := e.opt.Store.Event(e.ctx, event)
		if err != nil {
			return nil, err
		}
		if have := e.get(event); have != nil && have.dataNo >= ev.DataNo && (have.model != nil || have.err != nil) {
			return have, nil
		}
		return e.compute(event)
	})
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case r := <-result:
		made, _ := r.Val.(*entry)
		return made, r.Err
	}
}

// compute loads an event, makes its analysis and keeps it.
func (e *Engine) compute(event uuid.UUID) (_ *entry, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("an analysis panicked: %v\n%s", p, debug.Stack())
		}
	}()
	start := time.Now()
	e.standings.outdate(event)
	data, dataNo, err := e.opt.Store.Load(e.ctx, event)
	if err != nil {
		return nil, err
	}
	a, model, err := analyse(data, e.options)
	if errors.Is(err, ErrUnsolvable) {
		e.opt.Logger.Warn("an event cannot be estimated", "event", event, "data_no", dataNo, "error", err)
		return e.put(&entry{event: event, dataNo: dataNo, err: err}), nil
	}
	if err != nil {
		return nil, err
	}
	a.DataNo, model.DataNo = dataNo, dataNo
	made := e.put(&entry{event: event, dataNo: dataNo, made: a, model: model})
	took := time.Since(start)
	e.opt.Logger.Info("analysis made", "event", event, "data_no", dataNo, "matches", a.Estimate.Fit.Matches, "took_ms", took.Milliseconds())
	if e.opt.Took != nil {
		e.opt.Took(took)
	}
	e.tell(event, OfEstimates, dataNo)
	e.standings.follow(event)
	e.truth.follow(event)
	// Whoever waits for it has it by now.
	if err := e.keep(event, a); err != nil {
		e.opt.Logger.Warn("an analysis could not be kept in the store; it stays in memory", "event", event, "error", err)
	}
	return made, nil
}

// tell says that there is something new to fetch.
func (e *Engine) tell(event uuid.UUID, what Part, dataNo int64) {
	if e.opt.Done != nil {
		e.opt.Done(event, what, dataNo)
	}
}

func (e *Engine) keep(event uuid.UUID, a *Analysis) error {
	if e.opt.Build == "" {
		return nil
	}
	body, err := json.Marshal(a)
	if err != nil {
		return err
	}
	return e.opt.Store.SaveAnalysis(e.ctx, event, a.DataNo, e.opt.Build, e.hash, body)
}

// get returns what is in memory for an event, or nil.
func (e *Engine) get(event uuid.UUID) *entry {
	e.mu.Lock()
	defer e.mu.Unlock()
	el, ok := e.kept[event]
	if !ok {
		return nil
	}
	e.recent.MoveToFront(el)
	return el.Value.(*entry)
}

// put keeps an entry unless there is one as new, and returns the one that is
// kept: two of the same data say the same.
func (e *Engine) put(n *entry) *entry {
	e.mu.Lock()
	defer e.mu.Unlock()
	if el, ok := e.kept[n.event]; ok {
		if have := el.Value.(*entry); have.dataNo > n.dataNo || have.dataNo == n.dataNo && (have.model != nil || n.model == nil) {
			return have
		}
		el.Value = n
		e.recent.MoveToFront(el)
		return n
	}
	e.kept[n.event] = e.recent.PushFront(n)
	if e.recent.Len() > maxEvents {
		oldest := e.recent.Remove(e.recent.Back()).(*entry)
		delete(e.kept, oldest.event)
	}
	return n
}
