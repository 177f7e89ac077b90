package engine

import (
	"context"
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/check"
	"sextant/stats/record"
)

// TestOrder holds that after a change the estimates are told of before anything
// that is made of them is begun, and a first picture before the whole.
func TestOrder(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	e, _, done := f.engine(t, "test")
	if _, _, _, err := e.Standings(t.Context(), f.event); err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := e.Truth(t.Context(), f.event); err != nil {
		t.Fatal(err)
	}
	for range 4 { // the estimates, both standings and the records in doubt
		next(t, done)
	}
	// Each says how much was told of when it began.
	began := make(chan int, 10)
	note := func() { began <- len(done) }
	first, whole, truth := e.standings.first, e.standings.work, e.truth.work
	e.standings.first = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		note()
		return first(ctx, m, team)
	}
	e.standings.work = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		note()
		return whole(ctx, m, team)
	}
	e.truth.work = func(ctx context.Context, m *Model, team record.TeamID) (*check.Survey, error) {
		note()
		return truth(ctx, m, team)
	}
	f.play(t, f.match(t, 9))
	e.Touch(f.event)
	for range 3 {
		if next(t, began) == 0 {
			t.Error("something was begun before the estimates were told of")
		}
	}
	var order []Part
	for range 4 {
		if m := next(t, done); m.what != OfTruth { // made beside the standings
			order = append(order, m.what)
		}
	}
	if diff := cmp.Diff([]Part{OfEstimates, OfStandings, OfStandings}, order); diff != "" {
		t.Errorf("order of what is told of: %s", diff)
	}
}

// TestWholeGivesWay holds that standings of older data, once their first picture is
// out, are not finished before newer ones are begun.
func TestWholeGivesWay(t *testing.T) {
	t.Parallel()
	f := setup(t, 8)
	e, _, done := f.engine(t, "test")
	if _, _, _, err := e.Standings(t.Context(), f.event); err != nil {
		t.Fatal(err)
	}
	whole := e.standings.work
	begun, ended := make(chan int64, 10), make(chan error, 10)
	e.standings.work = func(ctx context.Context, m *Model, team record.TeamID) (*Standings, error) {
		begun <- m.DataNo
		if m.Fit.Record().Fit.Matches == 9 { // would never be done
			<-ctx.Done()
			ended <- ctx.Err()
			return nil, ctx.Err()
		}
		return whole(ctx, m, team)
	}
	f.play(t, f.match(t, 9))
	e.Touch(f.event)
	old := next(t, begun)
	f.play(t, f.match(t, 10))
	e.Touch(f.event)
	if err := next(t, ended); !errors.Is(err, context.Canceled) {
		t.Errorf("the older standings end with %v", err)
	}
	if no := next(t, begun); no <= old {
		t.Errorf("begun again of data number %d, before %d", no, old)
	}
	for {
		wait(t, done)
		s, no, current, err := e.Standings(t.Context(), f.event)
		if err != nil {
			t.Fatal(err)
		}
		if current {
			if s.First || no <= old || s.Outlook.Runs != runs {
				t.Errorf("whole standings: %d runs of data number %d, first %v", s.Outlook.Runs, no, s.First)
			}
			return
		}
	}
}
