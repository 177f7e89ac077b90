package study

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"sextant/stats/backtest"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/rota"
	"sextant/stats/standings"
)

// The ways to place scouts that are compared.
const (
	ValueFour   = "four by value"
	StationFour = "four by station"          // two places of each alliance, always the same
	StationRow  = "four, one alliance first" // all of red, one of blue
	ValueThree  = "three by value"
	StationSix  = "six by station" // everybody is watched
	NobodyThere = "nobody"
)

// RotaOptions of a study of rotas.
type RotaOptions struct {
	Seeds, First int
	Events       generate.Options // Scouts is not read
	TruthRuns    int              // at least 2
	Every        int              // matches after which a plan is made anew
	Weights      rota.Weights
}

// RotaScores are means over events.
type RotaScores struct {
	Way     string  `json:"way"`
	Records float64 `json:"records"`     // an event
	RMSE    float64 `json:"points_rmse"` // of robots' points, mean taken off
	Brier   float64 `json:"brier"`       // walk-forward, of all matches
	Ours    float64 `json:"ours_mae"`    // mean absolute error of scores in our matches
	// Pick is what our first call lacks against the best robot that is free, in
	// points: the robot with the highest estimate, captains not counted.
	Pick float64 `json:"pick"`
	// What this way has more than the first, paired by event.
	RMSEMore  Difference `json:"rmse_more"`
	BrierMore Difference `json:"brier_more"`
	OursMore  Difference `json:"ours_more"`
	PickMore  Difference `json:"pick_more"`
}

// RotaReport is what a study of rotas found.
type RotaReport struct {
	Events int          `json:"events"`
	First  int          `json:"first"`
	Ways   []RotaScores `json:"ways" nullable:"false"`
}

// Rotas sends scouts to robots in each way, at the same invented events, with
// the same luck of every match and of every scout at a robot, and measures what
// is known in the end. When ctx ends, the report is about the events done.
func Rotas(ctx context.Context, g *game.Game, opt RotaOptions) (*RotaReport, error) {
	if opt.Seeds < 2 || opt.Every < 1 || opt.TruthRuns < 2 || g.Alliance.Robots < 2 || g.Selection == nil {
		return nil, errors.New("a study of rotas needs two seeds or more, two truth runs or more, plans made anew after one match or more, and a game with partners and a selection")
	}
	opt.Events.Scouts = 2 * g.Alliance.Robots
	ways := []string{ValueFour, StationFour, StationRow, ValueThree, StationSix, NobodyThere}
	got := make([][]RotaScores, len(ways))
	out := &RotaReport{First: opt.First}
	for seed := opt.First; seed < opt.First+opt.Seeds && ctx.Err() == nil; seed++ {
		w, err := generate.New(g, rand.New(rand.NewPCG(uint64(seed), 0)), opt.Events)
		if err != nil {
			return nil, err
		}
		truth := w.Truth(opt.TruthRuns)
		for i, way := range ways {
			one, err := watchAll(w, g, truth, way, &opt)
			if err != nil {
				return nil, fmt.Errorf("seed %d, %s: %w", seed, way, err)
			}
			got[i] = append(got[i], one)
		}
		out.Events++
	}
	if out.Events < 2 {
		return nil, ctx.Err()
	}
	for i, way := range ways {
		s := RotaScores{Way: way}
		for _, x := range got[i] {
			n := float64(out.Events)
			s.Records += x.Records / n
			s.RMSE += x.RMSE / n
			s.Brier += x.Brier / n
			s.Ours += x.Ours / n
			s.Pick += x.Pick / n
		}
		s.RMSEMore = paired(got[i], got[0], func(s *RotaScores) float64 { return s.RMSE })
		s.BrierMore = paired(got[i], got[0], func(s *RotaScores) float64 { return s.Brier })
		s.OursMore = paired(got[i], got[0], func(s *RotaScores) float64 { return s.Ours })
		s.PickMore = paired(got[i], got[0], func(s *RotaScores) float64 { return s.Pick })
		out.Ways = append(out.Ways, s)
	}
	return out, nil
}

// watchAll is one event watched in one way.
func watchAll(w *generate.World, g *game.Game, truth *generate.Truth, way string, opt *RotaOptions) (RotaScores, error) {
	s := RotaScores{Way: way}
	schedule := w.Schedule()
	ev := &record.Event{Game: g, Teams: w.Teams(), Matches: slices.Clone(schedule), OurTeam: w.Teams()[0].ID}
	var plan []record.SeatBody
	for i := range schedule {
		if i%opt.Every == 0 {
			var err error
			if plan, err = seats(ev, w.Scouts(), way, i, opt); err != nil {
				return s, err
			}
		}
		sent := generate.Sent{}
		for _, seat := range plan {
			if seat.Match == schedule[i].ID {
				sent[seat.Scout] = seat.Team
			}
		}
		observations, err := w.Watch(i, sent)
		if err != nil {
			return s, err
		}
		ev.Matches[i], _ = w.Play(i)
		ev.Observations = append(ev.Observations, observations...)
		ev.Marks = w.Marks(i + 1)
	}
	scores, report, err := one(ev, truth, contrib.EstimatorFused, backtest.Options{From: 0.25})
	if err != nil {
		return s, err
	}
	s.Records, s.RMSE, s.Brier = float64(len(ev.Observations)), scores.PointsRMSE, scores.Brier
	s.Ours = ours(ev, report)
	s.Pick, err = regret(ev, truth)
	return s, err
}

// seats are those of the matches from i on.
func seats(ev *record.Event, scouts []string, way string, i int, opt *RotaOptions) ([]record.SeatBody, error) {
	people := map[string]int{ValueFour: 4, ValueThree: 3}[way]
	if people == 0 {
		return byStation(ev.Matches[i:], scouts, way), nil
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil && !errors.Is(err, contrib.ErrNoData) {
		return nil, err
	}
	sel := ev.Game.Selection
	req := &rota.Request{
		Matches: ev.Matches[i:], Our: ev.OurTeam, Seats: people, Weights: opt.Weights,
		Robots: rota.Know(ev, fit, nil, sel.Alliances*(1+sel.Picks)),
	}
	for _, name := range scouts[:people] {
		req.People = append(req.People, rota.Person{Scout: name})
	}
	plan, err := rota.Plan(req)
	if err != nil {
		return nil, err
	}
	return plan.Seats, nil
}

// byStation puts everybody on one place for good: all, or two of each alliance.
func byStation(matches []record.Match, scouts []string, way string) (out []record.SeatBody) {
	places := map[string][2]int{StationSix: {len(scouts) / 2, len(scouts) / 2}, StationFour: {2, 2}, StationRow: {3, 1}}[way]
	for i := range matches {
		next := 0
		for side, a := range []record.Alliance{matches[i].Red, matches[i].Blue} {
			for _, team := range a.Teams[:min(places[side], len(a.Teams))] {
				out = append(out, record.SeatBody{Match: matches[i].ID, Team: team, Scout: scouts[next]})
				next++
			}
		}
	}
	return out
}

// ours is how far the forecast scores of our matches were off.
func ours(ev *record.Event, report *backtest.Report) (mae float64) {
	n := 0.0
	for i := range report.Matches {
		f := &report.Matches[i]
		m := slices.IndexFunc(ev.Matches, func(m record.Match) bool { return m.ID == f.Match })
		if !slices.Contains(ev.Matches[m].Red.Teams, ev.OurTeam) && !slices.Contains(ev.Matches[m].Blue.Teams, ev.OurTeam) {
			continue
		}
		mae += abs(f.Red.Mean-f.RedScore) + abs(f.Blue.Mean-f.BlueScore)
		n += 2
	}
	return mae / max(1, n)
}

func abs(x float64) float64 { return max(x, -x) }

// regret is what the robot with the highest estimate lacks against the best,
// among those that are not captains.
func regret(ev *record.Event, truth *generate.Truth) (float64, error) {
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		return 0, err
	}
	captains := map[record.TeamID]bool{ev.OurTeam: true}
	for _, p := range standings.Current(ev)[:ev.Game.Selection.Alliances] {
		captains[p.Team] = true
	}
	chosen, best := -1, -1
	for i, t := range truth.Teams {
		if captains[t.Team] {
			continue
		}
		if chosen < 0 || fit.Mean(i) > fit.Mean(chosen) {
			chosen = i
		}
		if best < 0 || t.Points > truth.Teams[best].Points {
			best = i
		}
	}
	return truth.Teams[best].Points - truth.Teams[chosen].Points, nil
}
