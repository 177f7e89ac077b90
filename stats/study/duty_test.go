package study

import (
	"testing"
	"time"

	"sextant/stats/game"
	"sextant/stats/generate"
)

// Few who do not tire are told, and more of those who do. The table of
// stats/check.md is made from other seeds and more of them.
func TestDutiesTellFewWrongly(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	events := generate.Defaults()
	events.Tire, events.Start = 0.5, time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	r, err := Duties(g, DutyOptions{Seeds: 6, First: 7300, Events: events})
	if err != nil {
		t.Fatal(err)
	}
	if r.Tired < 40 || r.Fresh < 40 || r.False.Mean > 0.05+3*r.False.SE || r.False.Mean > 0.12 {
		t.Errorf("%.3f of %d days of scouts who do not tire are told; %d of those who do", r.False.Mean, r.Fresh, r.Tired)
	}
	for _, l := range r.Limits[:3] {
		if l.Found <= 1.2*l.False {
			t.Errorf("at %.1f %.2f of those who tire are told, and %.2f of the others", l.Limit, l.Found, l.False)
		}
	}
	events.Start = time.Time{}
	if _, err := Duties(g, DutyOptions{Seeds: 1, Events: events}); err == nil {
		t.Error("no error without times")
	}
}
