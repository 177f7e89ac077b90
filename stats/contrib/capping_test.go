package contrib

import (
	"math"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/game"
	"sextant/stats/record"
)

// cappedEvent is one match in which red's robots were seen to score 4, 3 and 2
// marbles high, of which an alliance is credited with at most.
func cappedEvent(most *float64) *record.Event {
	g := contribtest.Game()
	for i := range g.Actions {
		if g.Actions[i].ID == "high" {
			g.Actions[i].AllianceMax = most
		}
	}
	ev := &record.Event{Game: g}
	m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 1}, Play: 1}
	m.Red.Result, m.Blue.Result = &record.Result{Score: 24}, &record.Result{Score: 24}
	for i, id := range []record.TeamID{"1", "2", "3", "4", "5", "6"} {
		ev.Teams = append(ev.Teams, record.Team{ID: id})
		a := &m.Red
		if i >= 3 {
			a = &m.Blue
		}
		a.Teams = append(a.Teams, id)
		ev.Observations = append(ev.Observations, observed(1, id, number(float64(4-i%3)), number(0), "none"))
	}
	ev.Matches = []record.Match{m}
	return ev
}

func TestCappingAddsBackWhatCapsTook(t *testing.T) {
	t.Parallel()
	off := func(ev *record.Event) float64 {
		e := newEvidence(ev)
		return newCapping(e, e.worth()).off(0)
	}
	if got := off(cappedEvent(nil)); got != 0 {
		t.Errorf("no cap, but %v points off", got)
	}
	if got := off(cappedEvent(number(9))); got != 0 {
		t.Errorf("a cap that was just reached took %v points", got)
	}
	if got := off(cappedEvent(number(6))); math.Abs(got-12) > 1e-9 { // 3 of 9 at 4 points
		t.Errorf("a cap of 6 took %v points off 9 marbles, want 12", got)
	}
	ev := cappedEvent(number(6))
	ev.Observations = ev.Observations[:1]
	if got := off(ev); got != 0 {
		t.Errorf("one robot of three was watched: %v points is a guess", got)
	}

	fit := mustEstimate(t, cappedEvent(number(6)), Options{}).Record().Fit
	if math.Abs(fit.Capped-24) > 1e-9 {
		t.Errorf("the report has %v points off, want 12 of each alliance", fit.Capped)
	}
	if fit.Explained == nil || math.Abs(*fit.Explained-1) > 1e-9 {
		t.Errorf("explained %v, want all: 36 points seen, 12 taken off, 24 official", fit.Explained)
	}
}

// What the venue says of a robot comes before what a scout saw, and tells of a
// robot that nobody watched.
func TestOfficialValues(t *testing.T) {
	t.Parallel()
	at := func(change func(*record.Event)) record.TeamEstimate {
		ev := cappedEvent(nil)
		ev.Matches[0].Red.Result.Score = 36
		ev.Matches[0].Blue.Result.Score = 36
		change(ev)
		return mustEstimate(t, ev, Options{}).Record().Teams[2]
	}
	official := func(values ...string) func(*record.Event) {
		return func(ev *record.Event) {
			ev.Matches[0].Red.Result.Robots = map[string][]string{"high": values}
		}
	}
	seen := at(func(*record.Event) {})
	more := at(official("", "", "6"))
	if more.Points < seen.Points+0.3 {
		t.Errorf("a scout saw 2, the venue 6: %.2f points, without the venue %.2f", more.Points, seen.Points)
	}
	unwatched := func(ev *record.Event) { ev.Observations = append(ev.Observations[:2:2], ev.Observations[3:]...) }
	without := at(unwatched)
	low := at(func(ev *record.Event) { unwatched(ev); official("", "", "0")(ev) })
	if low.Points > without.Points-0.5 {
		t.Errorf("nobody watched, the venue saw none: %.2f points, without the venue %.2f", low.Points, without.Points)
	}
	if low.Watched != 0 {
		t.Errorf("watched in %d matches, nobody did", low.Watched)
	}
	choice := merged(&record.Observation{Choices: map[string]record.Chosen{"park": {Option: "near"}}},
		map[string]string{"park": "on", "high": "-"}, contribtest.Game())
	if choice.Choices["park"].Option != "on" || choice.Counts["high"].Made != nil {
		t.Errorf("%+v: an option was not taken over, or a dash was read as a number", choice)
	}
}

// Nine marbles each are too many where both alliances together are credited
// with twelve, although neither alone reaches that.
func TestCappingKnowsSharedLimits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		per  string
		want float64
	}{{"alliance", 0}, {"match", 12}} {
		ev := cappedEvent(nil)
		ev.Game.Limits = []game.Limit{{Count: []string{"high"}, Max: 12, Per: c.per}}
		e := newEvidence(ev)
		caps := newCapping(e, e.worth())
		if red, blue := caps.off(0), caps.off(1); math.Abs(red+blue-2*c.want) > 1e-9 {
			t.Errorf("a limit of 12 per %s took %v and %v points, want %v in all", c.per, red, blue, 2*c.want)
		}
	}
}
