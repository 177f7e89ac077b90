package engine

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"sync"
	"time"

	"github.com/google/uuid"
	"golang.org/x/sync/singleflight"

	"sextant/stats/backtest"
	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/stats/standings"
	"sextant/store"
)

// runs of the rest of an event: a chance is known to within a hundredth. The
// first picture, which is there in a twentieth of the time, is of fewer.
const (
	runs      = 20000
	firstRuns = 1000
)

// calibrationDraws of each match for the chances of ranking points then.
const calibrationDraws = 250

// Standings is how the ranking is and how it may end.
type Standings struct {
	Current   []standings.Ranked   // as it is
	Outlook   *standings.Outlook   // nil: nothing is known of any robot yet
	Schedules []standings.Schedule // nil with Outlook
	Order     []string             // what the ranking compares
	OurTeam   record.TeamID        // empty: not said, or not at the event
	First     bool                 // a first picture of few runs
}

// rank makes standings of a model for our team.
func rank(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
	return playedOut(ctx, m, team, runs)
}

// rankFirst makes the first picture.
func rankFirst(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
	s, err := playedOut(ctx, m, team, firstRuns)
	if err == nil {
		s.First = true
	}
	return s, err
}

func playedOut(ctx context.Context, m *Model, team record.TeamID, runs int) (*Standings, error) {
	s := &Standings{Current: standings.Current(m.Event), Order: standings.Order(m.Event.Game)}
	for _, t := range m.Event.Teams {
		if t.ID == team {
			s.OurTeam = team
		}
	}
	if m.Fit == nil {
		return s, nil
	}
	var err error
	s.Outlook, err = standings.Forecast(ctx, m.Event, m.Fit, standings.Options{Runs: runs, Seed: 1, Team: s.OurTeam})
	if err != nil {
		return nil, err
	}
	s.Schedules = standings.Strength(m.Event, m.Fit)
	return s, nil
}

func calibrate(ctx context.Context, m *Model, _ record.TeamID) (*backtest.Calibration, error) {
	if m.Fit == nil {
		return &backtest.Calibration{Rows: []backtest.Lead{}, Forecasts: []backtest.Match{}, Trust: backtest.Trust{Level: backtest.TrustTooLittle}}, nil
	}
	c, err := backtest.Calibrate(ctx, m.Event, calibrationDraws)
	if err != nil && ctx.Err() == nil && !errors.Is(err, contrib.ErrNoData) {
		return nil, fmt.Errorf("%w: %w", ErrUnsolvable, err)
	}
	return c, err
}

func doubt(_ context.Context, m *Model, _ record.TeamID) (*check.Survey, error) {
	s := check.Look(m.Event, m.Fit, check.Options{})
	return &s, nil
}

// Model returns the newest estimate with all that can be asked of it further,
// and whether nothing has changed since. If it is old, a new one is being
// computed; only the first call waits. Its errors are those of Analysis.
func (e *Engine) Model(ctx context.Context, event uuid.UUID) (m *Model, current bool, err error) {
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, false, err
	}
	found := e.get(event)
	if found == nil || found.model == nil && found.err == nil {
		if m, err = e.fresh(ctx, event); err != nil {
			return nil, false, err
		}
		return m, m.DataNo >= ev.DataNo, nil
	}
	if current = found.dataNo >= ev.DataNo; !current {
		e.Touch(event)
	}
	return found.model, current, found.err
}

// fresh is the model of the newest data.
func (e *Engine) fresh(ctx context.Context, event uuid.UUID) (*Model, error) {
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, err
	}
	found := e.get(event)
	for found == nil || found.dataNo < ev.DataNo || found.model == nil && found.err == nil {
		// It may join a computation that had begun before.
		if found, err = e.wait(ctx, event); err != nil {
			return nil, err
		}
	}
	return found.model, found.err
}

// Standings returns the newest standings of an event, from which data they are,
// and whether nothing has changed since and they are no first picture of few
// runs. Like Analysis, only the first call for an event waits. Later ones of it
// are made after each change: the first picture at once, the whole after a pause,
// if no newer data come before.
func (e *Engine) Standings(ctx context.Context, event uuid.UUID) (s *Standings, dataNo int64, current bool, err error) {
	return e.standings.newest(ctx, event)
}

// Calibration is like Standings, but a new one is made only when it is asked for.
func (e *Engine) Calibration(ctx context.Context, event uuid.UUID) (c *backtest.Calibration, dataNo int64, current bool, err error) {
	return e.calibration.newest(ctx, event)
}

// Truth is like Standings: how far the records of an event can be trusted.
func (e *Engine) Truth(ctx context.Context, event uuid.UUID) (s *check.Survey, dataNo int64, current bool, err error) {
	return e.truth.newest(ctx, event)
}

// earlier are the forecasts of played matches, each from what was known before
// it, as far as they have been made. If there are none of the newest data, that
// is begun, and pending. It does not wait.
func (e *Engine) earlier(ctx context.Context, event uuid.UUID) (made []backtest.Match, pending bool, err error) {
	ev, err := e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, false, err
	}
	have := e.calibration.get(event)
	if pending = !have.fits(&ev); pending {
		e.calibration.begin(event)
	}
	if have == nil || have.err != nil {
		return nil, pending, nil
	}
	return have.made.Forecasts, pending, nil
}

// maxDerived is how many events' further analyses of a kind stay in memory.
const maxDerived = 16

// derived keeps one kind of further analysis, made from a Model, one at a time
// and beside the analyses.
type derived[T any] struct {
	e       *Engine
	part    Part
	work    func(context.Context, *Model, record.TeamID) (T, error)
	first   func(context.Context, *Model, record.TeamID) (T, error) // a first picture in less time; nil: none
	flights singleflight.Group
	turn    chan struct{}

	mu    sync.Mutex
	kept  map[uuid.UUID]*result[T]
	order []uuid.UUID                      // the longest kept first
	ends  map[uuid.UUID]context.CancelFunc // of what is made after a first picture
}

// errOutdated says that newer data came while a further analysis was made.
var errOutdated = errors.New("there are newer data")

// result is the newest further analysis of an event, or why there is none.
type result[T any] struct {
	dataNo int64
	team   record.TeamID
	first  bool // a first picture; the whole is being made
	made   T
	err    error
}

// fits reports whether r is whole and of the newest data; nil is not.
func (r *result[T]) fits(ev *store.Event) bool {
	return r != nil && !r.first && r.dataNo >= ev.DataNo && r.team == ev.OurTeam
}

func newDerived[T any](e *Engine, part Part, work func(context.Context, *Model, record.TeamID) (T, error)) *derived[T] {
	return &derived[T]{
		e: e, part: part, work: work, turn: make(chan struct{}, 1),
		kept: map[uuid.UUID]*result[T]{}, ends: map[uuid.UUID]context.CancelFunc{},
	}
}

func (d *derived[T]) get(event uuid.UUID) *result[T] {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.kept[event]
}

func (d *derived[T]) put(event uuid.UUID, r *result[T]) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.kept[event] == nil {
		d.order = append(d.order, event)
		if len(d.order) > maxDerived {
			delete(d.kept, d.order[0])
			d.order = d.order[1:]
		}
	}
	d.kept[event] = r
}

func (d *derived[T]) newest(ctx context.Context, event uuid.UUID) (made T, dataNo int64, current bool, err error) {
	ev, err := d.e.opt.Store.Event(ctx, event)
	if err != nil {
		return made, 0, false, err
	}
	have := d.get(event)
	if have == nil || have.team != ev.OurTeam {
		select {
		case <-ctx.Done():
			return made, 0, false, ctx.Err()
		case r := <-d.fly(event):
			if r.Err != nil {
				return made, 0, false, r.Err
			}
			have = r.Val.(*result[T])
		}
	}
	if current = have.fits(&ev); !current {
		d.begin(event)
	}
	return have.made, have.dataNo, current, have.err
}

// follow makes a new one if there is an old one that somebody asked for.
func (d *derived[T]) follow(event uuid.UUID) {
	if d.get(event) != nil {
		d.begin(event)
	}
}

// begin makes a new one in the background, if it has not been begun. It never blocks.
func (d *derived[T]) begin(event uuid.UUID) {
	d.e.mu.Lock()
	defer d.e.mu.Unlock()
	if d.e.closed {
		return
	}
	d.e.running.Add(1)
	go func() {
		defer d.e.running.Done()
		for {
			r := <-d.fly(event)
			if r.Err != nil {
				if d.e.ctx.Err() == nil {
					d.e.opt.Logger.Error("a further analysis could not be made; the next change or request tries again", "what", d.part, "event", event, "error", r.Err)
				}
				return
			}
			// It may have joined one that had begun before the last change.
			if newest := d.e.get(event); newest == nil || r.Val.(*result[T]).dataNo >= newest.dataNo {
				return
			}
		}
	}()
}

// fly joins or starts the computation for an event.
func (d *derived[T]) fly(event uuid.UUID) <-chan singleflight.Result {
	return d.flights.DoChan(event.String(), func() (any, error) {
		for {
			r, err := d.compute(event)
			if !errors.Is(err, errOutdated) {
				return r, err
			}
		}
	})
}

// inTurn does one piece of work at a time.
func (d *derived[T]) inTurn(ctx context.Context, work func() error) error {
	select {
	case d.turn <- struct{}{}:
		defer func() { <-d.turn }()
	case <-ctx.Done():
		return ctx.Err()
	}
	return work()
}

// outdate ends what is made of an event's older data after a first picture: a first
// picture of newer ones comes next, and sooner.
func (d *derived[T]) outdate(event uuid.UUID) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if end := d.ends[event]; end != nil {
		end()
	}
}

// untilOutdated is a context that outdate ends, or the engine, or done.
func (d *derived[T]) untilOutdated(event uuid.UUID) (ctx context.Context, done func()) {
	ctx, end := context.WithCancel(d.e.ctx)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.ends[event] = end
	return ctx, func() {
		d.mu.Lock()
		defer d.mu.Unlock()
		delete(d.ends, event)
		end()
	}
}

// compute makes one, unless there is one of the newest data, and tells of it.
// errOutdated: there are newer data.
func (d *derived[T]) compute(event uuid.UUID) (_ *result[T], err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%s panicked: %v\n%s", d.part, p, debug.Stack())
		}
	}()
	ctx := d.e.ctx
	ev, err := d.e.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, err
	}
	have := d.get(event)
	if have.fits(&ev) {
		return have, nil
	}
	start := time.Now()
	r := &result[T]{team: ev.OurTeam, dataNo: ev.DataNo}
	m, err := d.e.fresh(ctx, event)
	if err == nil {
		r.dataNo = m.DataNo
		// Who waits for the first of an event waits for the whole.
		awaited := have == nil || have.team != ev.OurTeam
		r.made, err = d.pictures(event, m, r, awaited)
	}
	if err != nil && !errors.Is(err, ErrUnsolvable) {
		return nil, err
	}
	r.err = err
	d.put(event, r)
	d.e.opt.Logger.Info("further analysis made", "what", d.part, "event", event, "data_no", r.dataNo, "took_ms", time.Since(start).Milliseconds())
	d.e.tell(event, d.part, r.dataNo)
	return r, nil
}

// pictures makes the first picture, if there is one, and the whole.
func (d *derived[T]) pictures(event uuid.UUID, m *Model, whole *result[T], awaited bool) (made T, err error) {
	ctx := d.e.ctx
	if d.first != nil {
		if !awaited {
			var done func()
			ctx, done = d.untilOutdated(event)
			defer done()
		}
		early := *whole
		early.first = true
		err = d.inTurn(d.e.ctx, func() (err error) {
			early.made, err = d.first(d.e.ctx, m, early.team)
			return err
		})
		if err != nil {
			return made, err
		}
		d.put(event, &early)
		d.e.tell(event, d.part, early.dataNo)
		if !awaited {
			pause := time.NewTimer(d.e.opt.Pause)
			defer pause.Stop()
			select {
			case <-pause.C:
			case <-ctx.Done():
			}
		}
	}
	err = d.inTurn(ctx, func() (err error) {
		made, err = d.work(ctx, m, whole.team)
		return err
	})
	if ctx.Err() != nil && d.e.ctx.Err() == nil {
		err = errOutdated
	}
	return made, err
}
