package contrib_test

import (
	"math"
	"testing"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
)

// trainingEvent is one match of six robots that truly score ten barrels of two
// points each. Five scouts count all of them, "low" counts eight of ten.
func trainingEvent(trainings ...record.Training) *record.Event {
	ev := &record.Event{Game: &game.Game{
		Alliance: game.AllianceSize{Robots: 3},
		Periods:  []game.Period{{ID: "driver", Name: "Driver-controlled", Seconds: 120}},
		Actions:  []game.Action{{ID: "barrel", Period: "driver", Kind: game.Count, Points: 2}},
	}, Trainings: trainings}
	m := record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 1}, Play: 1}
	for i, t := range []record.TeamID{"1", "2", "3", "4", "5", "6"} {
		ev.Teams = append(ev.Teams, record.Team{ID: t})
		side := m.Side(record.Red)
		if i >= 3 {
			side = m.Side(record.Blue)
		}
		side.Teams = append(side.Teams, t)
		n, scout := 10.0, "good"+string(t)
		if i == 0 {
			n, scout = 8, "low"
		}
		ev.Observations = append(ev.Observations, record.Observation{Match: m.ID, Team: t, Scout: scout, Counts: map[string]record.Tally{"barrel": {Made: &n}}})
	}
	for _, c := range []record.Colour{record.Red, record.Blue} {
		m.Side(c).Result = &record.Result{Score: 60}
	}
	ev.Matches = []record.Match{m}
	return ev
}

func trainingOf(scout string, truth, seen float64) record.Training {
	return record.Training{Scout: scout, Script: record.TrainingScript{Seed: 1, Version: 1, Seconds: 120},
		Truth: map[string]record.Tally{"barrel": {Made: &truth}}, Seen: map[string]record.Tally{"barrel": {Made: &seen}}}
}

func estimateOf(t *testing.T, ev *record.Event) record.Estimate {
	t.Helper()
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return fit.Record()
}

func scoutOf(e record.Estimate, name string) record.Scout {
	for _, s := range e.Fit.Scouts {
		if s.Scout == name {
			return s
		}
	}
	return record.Scout{}
}

// TestTraining: who was seen to count a fifth too little before the event is
// read so after the first match, and the robot that was watched comes out
// closer to what it does.
func TestTraining(t *testing.T) {
	t.Parallel()
	low := []record.Training{trainingOf("low", 10, 8), trainingOf("low", 15, 12), trainingOf("low", 10, 8)}
	before, after := estimateOf(t, trainingEvent()), estimateOf(t, trainingEvent(low...))
	const truth = 20
	was, is := before.Teams[0].Points-truth, after.Teams[0].Points-truth
	if !(math.Abs(is) < math.Abs(was)) {
		t.Errorf("off by %.2f points without training and %.2f with it", was, is)
	}
	if b, a := scoutOf(before, "low"), scoutOf(after, "low"); !(a.Bias < b.Bias-0.02 && a.BiasSD < b.BiasSD) {
		t.Errorf("the scout's bias is %.3f ± %.3f without training and %.3f ± %.3f with it", b.Bias, b.BiasSD, a.Bias, a.BiasSD)
	}
}

// TestTrainingSaysNothing: what is no evidence changes no digit.
func TestTrainingSaysNothing(t *testing.T) {
	t.Parallel()
	discarded := trainingOf("low", 10, 8)
	discarded.Discarded = true
	unseen := trainingOf("low", 10, 0)
	unseen.Seen = map[string]record.Tally{}
	want := estimateOf(t, trainingEvent()).Teams
	for name, tr := range map[string]record.Training{
		"Discarded": discarded, "NothingCounted": unseen, "WorthNothing": trainingOf("low", 0, 3), "NeverWatched": trainingOf("somebody", 10, 5),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for i, got := range estimateOf(t, trainingEvent(tr)).Teams {
				if got.Points != want[i].Points || got.SD != want[i].SD {
					t.Errorf("%s: %.6f ± %.6f, without the training %.6f ± %.6f", got.Team, got.Points, got.SD, want[i].Points, want[i].SD)
				}
			}
		})
	}
}
