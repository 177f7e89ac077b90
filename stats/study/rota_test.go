package study_test

import (
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/rota"
	"sextant/stats/study"
)

// Records help, four of them a match by value about as much as six; and the
// same seeds give the same. The table of stats/rota.md is made from other seeds
// and more of them.
func TestRotas(t *testing.T) {
	t.Parallel()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	opt := study.RotaOptions{Seeds: 2, First: 690, Events: generate.Defaults(), TruthRuns: 20, Every: 20, Weights: rota.DefaultWeights()}
	opt.Events.Teams, opt.Events.MatchesPerTeam = 24, 8
	run := func(opt study.RotaOptions) map[string]study.RotaScores {
		r, err := study.Rotas(context.Background(), g, opt)
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]study.RotaScores{}
		for _, w := range r.Ways {
			out[w.Way] = w
		}
		return out
	}
	got := run(opt)
	value, six, none := got[study.ValueFour], got[study.StationSix], got[study.NobodyThere]
	matches := float64(opt.Events.Teams * opt.Events.MatchesPerTeam / 6)
	if none.Records != 0 || value.Records > 4*matches || value.Records < 3.2*matches || six.Records > 6*matches || six.Records < 4.8*matches {
		t.Errorf("%g, %g and %g records of %g matches", none.Records, value.Records, six.Records, matches)
	}
	if none.RMSE < 1.2*value.RMSE || value.RMSE > 1.4*six.RMSE {
		t.Errorf("rmse of points: nobody %.2f, four by value %.2f, six %.2f", none.RMSE, value.RMSE, six.RMSE)
	}
	opt.TruthRuns, opt.Events.MatchesPerTeam = 2, 4
	if d := cmp.Diff(run(opt), run(opt)); d != "" {
		t.Errorf("the same seeds give something else: %s", d)
	}
}
