package engine

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"strings"
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

// told is what an engine said was made.
type told struct {
	what   Part
	dataNo int64
}

// engine returns an engine that counts its computations and tells when each is done.
func (f *fixture) engine(t *testing.T, build string) (e *Engine, made *atomic.Int64, done chan told) {
	t.Helper()
	made, done = &atomic.Int64{}, make(chan told, 100)
	e = New(Options{
		Store: f.db, Logger: slog.New(slog.DiscardHandler), Settle: time.Millisecond, Build: build,
		Took: func(time.Duration) { made.Add(1) },
		Done: func(_ uuid.UUID, what Part, dataNo int64) { done <- told{what, dataNo} },
	})
	t.Cleanup(e.Close)
	return e, made, done
}

func wait(t *testing.T, done <-chan told) int64 {
	t.Helper()
	return next(t, done).dataNo
}

// next is what comes next on a channel.
func next[T any](t *testing.T, from <-chan T) (got T) {
	t.Helper()
	select {
	case got = <-from:
	case <-time.After(30 * time.Second):
		t.Fatal("nothing comes within 30 s")
	}
	return got
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

// TestDerived holds that what follows from the estimates is made anew after
// whatever goes into it, once, and after nothing else.
func TestDerived(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	e, made, done := f.engine(t, "test")
	var first, whole atomic.Int64
	e.standings.first = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		first.Add(1)
		return rankFirst(ctx, m, team)
	}
	e.standings.work = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		whole.Add(1)
		return playedOut(ctx, m, team, 50)
	}
	ask := func() (s *Standings, no int64, current bool) {
		s, no, current, err := e.Standings(t.Context(), f.event)
		if err != nil {
			t.Fatal(err)
		}
		return s, no, current
	}
	patch := func(p store.EventPatch) {
		if _, err := f.db.UpdateEvent(t.Context(), f.event, p, nil); err != nil {
			t.Fatal(err)
		}
	}
	put := func(kind string, body any) {
		storetest.Append(t, f.db, f.event, storetest.Revision(kind, uuid.New(), f.lead, body))
	}
	team, name := record.TeamID("40103"), "Other"
	was, no, _ := ask()
	for _, c := range []struct {
		what   string
		change func()
		moves  bool
		alone  bool // the estimate stays: another team of ours
	}{
		{"a record", func() {
			storetest.Append(t, f.db, f.event, storetest.Observed(f.event, f.lead, storetest.Observation("Q1", "40101", "lead", 4)))
		}, true, false},
		{"a note", func() { put(record.KindNote, record.NoteBody{Team: "40101", Text: "Green"}) }, false, false},
		{"a result", func() { f.play(t, f.match(t, 9)) }, true, false},
		{"a list", func() { put(record.KindList, record.ListBody{Name: "First picks"}) }, false, false},
		{"a mark", func() {
			put(record.KindMark, record.Mark{Team: "40102", Match: record.MatchID{Stage: record.Qualification, Number: 7}, Kind: "repaired"})
		}, true, false},
		{"the event's name", func() { patch(store.EventPatch{Name: &name}) }, false, false},
		{"our team", func() { patch(store.EventPatch{OurTeam: &team}) }, true, true},
		{"the game file", func() {
			text := strings.Replace(storetest.Game, `"points": 3, "misses"`, `"points": 4, "misses"`, 1)
			if _, err := f.db.SetGame(t.Context(), f.event, []byte(text), ""); err != nil {
				t.Fatal(err)
			}
		}, true, false},
		{"the schedule", func() {
			matches := storetest.Matches([]record.Team{{ID: "40101"}, {ID: "40102"}, {ID: "40103"}, {ID: "40104"}, {ID: "40105"}, {ID: "40106"}, {ID: "40107"}, {ID: "40108"}, {ID: "40109"}}, 13)
			if _, err := f.db.ReplaceSchedule(t.Context(), f.event, matches, nil, store.Replace{}); err != nil {
				t.Fatal(err)
			}
		}, true, false},
	} {
		before := [3]int64{made.Load(), first.Load(), whole.Load()}
		c.change()
		e.Touch(f.event)
		s, now, current := ask()
		for !current {
			wait(t, done)
			s, now, current = ask()
		}
		moved := [3]int64{made.Load() - before[0], first.Load() - before[1], whole.Load() - before[2]}
		switch {
		case c.moves && (s == was || now <= no || moved[1] != 1 || moved[2] != 1 || !c.alone && moved[0] != 1):
			t.Errorf("after %s: data %d, before %d; %v analyses, first pictures and standings were made", c.what, now, no, moved)
		case !c.moves && (s != was || now != no || moved != [3]int64{}):
			t.Errorf("%s is no data, but made %v analyses, first pictures and standings", c.what, moved)
		case s.First:
			t.Errorf("after %s: a first picture passes for the whole", c.what)
		}
		was, no = s, now
	}
}

// TestFirstPicture holds that standings of few runs are there before the whole,
// and say so.
func TestFirstPicture(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	e, _, done := f.engine(t, "test")
	if s, _, current, err := e.Standings(t.Context(), f.event); err != nil || !current || s.First || s.Outlook.Runs != runs {
		t.Fatalf("the first that asks: current %v, %v", current, err)
	}
	whole := e.standings.work
	hold := make(chan struct{})
	release := sync.OnceFunc(func() { close(hold) })
	t.Cleanup(release) // before the engine waits for it, also when this fails
	e.standings.work = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		<-hold
		return whole(ctx, m, team)
	}
	f.play(t, f.match(t, 9))
	e.Touch(f.event)
	for {
		wait(t, done)
		s, _, current, err := e.Standings(t.Context(), f.event)
		if err != nil || current {
			t.Fatalf("while standings are being made: current %v, %v", current, err)
		}
		if s.First {
			if s.Outlook.Runs != firstRuns || s.Current[0].Matches == 0 {
				t.Errorf("the first picture: %d runs", s.Outlook.Runs)
			}
			break
		}
	}
	release()
	for {
		wait(t, done)
		if s, _, current, err := e.Standings(t.Context(), f.event); err != nil {
			t.Fatal(err)
		} else if current {
			if s.First || s.Outlook.Runs != runs {
				t.Errorf("whole standings: %d runs, first %v", s.Outlook.Runs, s.First)
			}
			break
		}
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
	e := New(Options{Store: f.db, Logger: slog.New(slog.DiscardHandler), Done: func(uuid.UUID, Part, int64) { panic("defect") }})
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
	// What robots have in common is told: here most of what is not known of one
	// would move the others, who share alliances with it, the other way.
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	some := 0.0
	for i, row := range a.Together {
		for j, v := range row {
			if math.Abs(v-fit.Cov(i, j)) > 0.0005001 || len(row) != i {
				t.Errorf("covariance of teams %d and %d: %v, the fit has %v", i, j, v, fit.Cov(i, j))
			}
			some += math.Abs(v)
		}
	}
	if len(a.Together) != len(a.Estimate.Teams) || some == 0 {
		t.Errorf("%d rows of covariances for %d teams, sum %v", len(a.Together), len(a.Estimate.Teams), some)
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
