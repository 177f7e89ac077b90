package engine

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/contrib"
	"sextant/stats/record"
	"sextant/store"
	"sextant/store/storetest"
)

func TestMain(m *testing.M) { storetest.Main(m) }

// fixture is an event with a schedule whose first matches are played.
type fixture struct {
	db    *store.DB
	event uuid.UUID
	lead  store.Member
}

func setup(t *testing.T, played int) *fixture {
	t.Helper()
	db := storetest.New(t)
	ev, lead := storetest.Event(t, db, nil)
	teams := storetest.Teams(t, db, ev.ID, 9)
	f := &fixture{db, ev.ID, lead}
	matches := storetest.Schedule(t, db, ev.ID, teams, 12)
	for i := range played {
		f.play(t, &matches[i])
	}
	return f
}

// play gives a match its result: what robot i adds grows with i.
func (f *fixture) play(t *testing.T, m *record.Match) {
	t.Helper()
	var items []store.Incoming
	for _, side := range []record.Colour{record.Red, record.Blue} {
		score := float64(m.ID.Number % 4)
		for _, team := range m.Side(side).Teams {
			score += 5 + float64(team[len(team)-1]-'0')
		}
		items = append(items, storetest.Revision(record.KindResult, record.ResultID(f.event, m.ID, m.Play, side), f.lead,
			record.ResultBody{Match: m.ID, Play: m.Play, Alliance: side, Score: score}))
	}
	storetest.Append(t, f.db, f.event, items...)
}

func (f *fixture) match(t *testing.T, number int) *record.Match {
	t.Helper()
	matches, _, err := f.db.Schedule(t.Context(), f.event)
	if err != nil {
		t.Fatal(err)
	}
	return &matches[number-1]
}

// engine returns an engine that counts its computations and tells when each is done.
func (f *fixture) engine(t *testing.T, build string) (e *Engine, made *atomic.Int64, done chan int64) {
	t.Helper()
	made, done = &atomic.Int64{}, make(chan int64, 100)
	e = New(Options{
		Store: f.db, Logger: slog.New(slog.DiscardHandler), Settle: time.Millisecond, Build: build,
		Took: func(time.Duration) { made.Add(1) },
		Done: func(_ uuid.UUID, dataNo int64) { done <- dataNo },
	})
	t.Cleanup(e.Close)
	return e, made, done
}

func wait(t *testing.T, done <-chan int64) int64 {
	t.Helper()
	select {
	case no := <-done:
		return no
	case <-time.After(30 * time.Second):
		t.Fatal("no analysis within 30 s")
	}
	return 0
}

func TestAnalysis(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	e, made, done := f.engine(t, "test")

	// Many who ask at once wait for one computation.
	var wg sync.WaitGroup
	results := make([]*Analysis, 8)
	for i := range results {
		wg.Go(func() {
			a, current, err := e.Analysis(t.Context(), f.event)
			if err != nil || !current {
				t.Errorf("analysis: current %v, %v", current, err)
			}
			results[i] = a
		})
	}
	wg.Wait()
	if made.Load() != 1 {
		t.Errorf("%d computations for one state of the data", made.Load())
	}
	first := results[0]
	if wait(t, done) != first.DataNo || first.Estimate.Fit.Matches != 8 || len(first.Forecasts) != 4 {
		t.Fatalf("analysis of %d matches with %d forecasts", first.Estimate.Fit.Matches, len(first.Forecasts))
	}

	// After a change the old one is given, and marked, until the new one is there.
	f.play(t, f.match(t, 9))
	old, current, err := e.Analysis(t.Context(), f.event)
	if err != nil || current || old != first {
		t.Errorf("after a change: %p (first %p), current %v, %v", old, first, current, err)
	}
	no := wait(t, done)
	now, current, err := e.Analysis(t.Context(), f.event)
	if err != nil || !current || now.DataNo != no || now.Estimate.Fit.Matches != 9 || len(now.Forecasts) != 3 {
		t.Errorf("the new analysis: current %v, data number %d of %d, %v", current, now.DataNo, no, err)
	}

	// What is no data makes no new one.
	name := "Other"
	if _, err := f.db.UpdateEvent(t.Context(), f.event, store.EventPatch{Name: &name}, nil); err != nil {
		t.Fatal(err)
	}
	e.Touch(f.event)
	if a, current, err := e.Analysis(t.Context(), f.event); a != now || !current || err != nil {
		t.Errorf("another name makes the analysis old (%v)", err)
	}
	if made.Load() != 2 {
		t.Errorf("%d computations for two states of the data", made.Load())
	}
}

func TestAnalysisIsKept(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	first, _, _ := f.engine(t, "build 1")
	want, _, err := first.Analysis(t.Context(), f.event)
	if err != nil {
		t.Fatal(err)
	}
	same, made, _ := f.engine(t, "build 1")
	got, current, err := same.Analysis(t.Context(), f.event)
	if err != nil || !current || made.Load() != 0 {
		t.Errorf("another process computes again: %d times, current %v, %v", made.Load(), current, err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("what was kept differs: %s", diff)
	}
	for _, build := range []string{"build 2", ""} {
		other, made, _ := f.engine(t, build)
		if _, _, err := other.Analysis(t.Context(), f.event); err != nil || made.Load() != 1 {
			t.Errorf("build %q takes what another build kept (%v)", build, err)
		}
	}
	// An old one is better than none, and is renewed.
	f.play(t, f.match(t, 9))
	late, _, done := f.engine(t, "build 1")
	if a, current, err := late.Analysis(t.Context(), f.event); err != nil || current || a.DataNo != want.DataNo {
		t.Errorf("an old kept analysis: current %v, %v", current, err)
	}
	if no := wait(t, done); no <= want.DataNo {
		t.Errorf("renewed for data number %d", no)
	}
}

func TestAnalysisErrors(t *testing.T) {
	t.Parallel()
	f := setup(t, 0)
	e, _, _ := f.engine(t, "test")
	if _, _, err := e.Analysis(t.Context(), uuid.New()); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an unknown event: %v", err)
	}
	a, current, err := e.Analysis(t.Context(), f.event)
	if err != nil || !current || a.Estimate.Teams == nil || len(a.Estimate.Teams) != 0 || a.Forecasts == nil {
		t.Errorf("an event without data: %+v, current %v, %v", a, current, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := e.Analysis(ctx, f.event); !errors.Is(err, context.Canceled) {
		t.Errorf("a caller who left: %v", err)
	}
}

// TestPanicIsAnError holds that a defect in an analysis does not end the
// program, in which tablets are sending records.
func TestPanicIsAnError(t *testing.T) {
	t.Parallel()
	f := setup(t, 4)
	e := New(Options{Store: f.db, Logger: slog.New(slog.DiscardHandler), Done: func(uuid.UUID, int64) { panic("defect") }})
	t.Cleanup(e.Close)
	if _, _, err := e.Analysis(t.Context(), f.event); err == nil {
		t.Error("a panic is no error")
	}
}

func TestClose(t *testing.T) {
	t.Parallel()
	f := setup(t, 4)
	e, made, _ := f.engine(t, "test")
	if _, _, err := e.Analysis(t.Context(), f.event); err != nil {
		t.Fatal(err)
	}
	f.play(t, f.match(t, 5))
	e.opt.Settle = time.Hour
	e.Touch(f.event)
	e.Close() // returns although the hour is not over
	e.Touch(f.event)
	if made.Load() != 1 {
		t.Errorf("%d computations, want 1", made.Load())
	}
}

func TestMemoryIsBounded(t *testing.T) {
	t.Parallel()
	e := New(Options{Logger: slog.New(slog.DiscardHandler)})
	t.Cleanup(e.Close)
	first := uuid.New()
	e.put(&entry{event: first, dataNo: 1})
	for range maxEvents - 1 {
		e.put(&entry{event: uuid.New(), dataNo: 1})
	}
	e.get(first) // used: another one goes
	e.put(&entry{event: uuid.New(), dataNo: 1})
	if len(e.kept) != maxEvents || e.recent.Len() != maxEvents || e.get(first) == nil {
		t.Errorf("%d events are kept, want %d with the one in use", len(e.kept), maxEvents)
	}
	if got := e.put(&entry{event: first, dataNo: 0}); got.dataNo != 1 {
		t.Error("an older analysis takes the place of a newer one")
	}
}

func TestAnalyse(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	ev, _, err := f.db.Load(t.Context(), f.event)
	if err != nil {
		t.Fatal(err)
	}
	a, _, err := analyse(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := analyse(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(a, b); diff != "" {
		t.Errorf("the same data give another analysis: %s", diff)
	}
	var got []string
	for _, f := range a.Forecasts {
		got = append(got, f.Match.String())
	}
	if diff := cmp.Diff([]string{"Q9", "Q10", "Q11", "Q12"}, got); diff != "" {
		t.Errorf("forecasts: %s", diff)
	}
	// A match that is played again is forecast once, for the play to come.
	again := *ev
	replay := ev.Matches[11]
	replay.Play = 2
	again.Matches = append(append([]record.Match{}, ev.Matches...), replay)
	if a, _, err = analyse(&again, contrib.Options{}); err != nil || len(a.Forecasts) != 4 {
		t.Errorf("%d forecasts with a replay to come (%v)", len(a.Forecasts), err)
	}
}
