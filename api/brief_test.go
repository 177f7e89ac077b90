package api

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/brief"
	"sextant/stats/record"
)

func TestBrief(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(16, 12)
	coach := lead.join("coach", "cora")
	var list matchList
	coach.get(".matches").want(200, &list)
	next := func(mine bool) *record.Match {
		for i := range list.Matches {
			m := &list.Matches[i]
			if m.Red.Result == nil && mine == slices.Contains(slices.Concat(m.Red.Teams, m.Blue.Teams), "40101") {
				return m
			}
		}
		t.Fatalf("no match to come with our team: %v", mine)
		return nil
	}
	m := next(true)
	path := ".brief/" + m.ID.String()
	var b briefView
	a := coach.get(path).want(200, &b)
	ours := m.Side(b.Ours)
	if !slices.Contains(ours.Teams, "40101") || len(b.Plan.Jobs) != 3 || len(b.Red) != 3 || len(b.Blue) != 3 || b.Played || b.Goal != brief.RankingPoints {
		t.Errorf("%.600s", a.body)
	}
	if diff := cmp.Diff(brief.Usual, b.Assume); diff != "" {
		t.Errorf("what is usual: %s", diff)
	}
	coach.get(path, "If-None-Match", a.header.Get("ETag")).want(304)

	// The numbers are those of a what-if with the same jobs.
	theirs := m.Blue.Teams
	if b.Ours == record.Blue {
		theirs = m.Red.Teams
	}
	free := path + "?loss=0.6&keeps=1"
	coach.get(free).want(200, &b)
	var defend []map[string]any
	for _, j := range b.Plan.Jobs {
		if j.Against != "" {
			defend = append(defend, map[string]any{"team": j.Team, "against": j.Against, "loss": 0.6, "keeps": 1})
		}
	}
	if len(defend) == 0 {
		t.Fatalf("nobody defends %v although it costs nothing: %+v", theirs, b.Plan)
	}
	var w whatIfView
	coach.send("POST", ".what-if", map[string]any{"match": m.ID.String(), "defend": defend}).want(200, &w)
	if diff := cmp.Diff(w.Before, b.Now) + cmp.Diff(w.After, b.Planned); diff != "" {
		t.Error(diff)
	}
	if w.After.Forecast.Chance == w.Before.Forecast.Chance {
		t.Error("nothing gained")
	}

	// A match that is in no schedule, with our line-up of four.
	imagined := ".brief/P1?ours=red&squad=40101+40103+40105+40107&blue=40102+40104+40106"
	coach.get(imagined).want(200, &b)
	if b.Goal != brief.Win || len(b.Out) != 1 || len(b.Lineups) != 4 || len(b.Red) != 3 || b.Match.String() != "P1" || math.Abs(b.Lineups[0].Win.Gain) > 0.05 {
		t.Errorf("%+v", b)
	}

	others := next(false).ID.String()
	coach.get(".brief/"+others).problem(invalid, "ours", "our team does not play")
	coach.get(".brief/"+others+"?ours=blue").want(200, &b)
	if b.Ours != record.Blue {
		t.Errorf("ours %q", b.Ours)
	}
	coach.get(".brief/X1").problem(invalid, "match")
	coach.get(".brief/Q99").problem(notFound, "not in the schedule")
	coach.get(path+"?red=40101+word").problem(invalid, "red", "no team number")
	coach.get(path+"?ours=red&red=40101+40199+40102").problem(invalid, "40199")
	coach.get(path+"?ours=red&squad=40101").problem(invalid, "1 robots")
	coach.get(".brief/Q1?ours=red").want(200, &b)
	if !b.Played {
		t.Error("Q1 has a result, and the brief does not say so")
	}
}

func TestBriefOfAnEmptyEvent(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead()
	lead.get(".brief/Q1").problem(notFound, "nothing is known")
}
