package worth

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"sync"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat"

	"sextant/stats/bracket"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/simulate"
)

// sample is an invented event of so many teams, estimated once.
type sample struct {
	ev      *record.Event
	fit     *contrib.Fit
	ranking []record.TeamID // by expected points with noise, as rankings are
}

func makeSample(teams, matches int) func() *sample {
	return sync.OnceValue(func() *sample {
		g, err := game.Load("slackwater.json", generate.Slackwater())
		if err != nil {
			panic(err)
		}
		opt := generate.Defaults()
		opt.Teams, opt.MatchesPerTeam = teams, matches
		rng := rand.New(rand.NewPCG(21, 0))
		w, err := generate.New(g, rng, opt)
		if err != nil {
			panic(err)
		}
		s := &sample{ev: w.Event(w.Matches())}
		if s.fit, err = contrib.Estimate(s.ev, contrib.Options{}); err != nil {
			panic(err)
		}
		key := map[record.TeamID]float64{}
		for i, t := range s.fit.Teams() {
			key[t] = s.fit.Strength(i)*s.fit.Exposure(i) + 8*rng.NormFloat64()
			s.ranking = append(s.ranking, t)
		}
		slices.SortFunc(s.ranking, func(a, b record.TeamID) int { return cmp.Compare(key[b], key[a]) })
		return s
	})
}

var (
	small = makeSample(30, 8)
	full  = makeSample(60, 12)
)

func (s *sample) board(t testing.TB, picks int) *selection.Board {
	t.Helper()
	b, err := selection.New(selection.Rules{Alliances: 8, Picks: 2}, s.ranking)
	if err != nil {
		t.Fatal(err)
	}
	for range picks {
		turn, _ := b.Turn()
		if err := b.Move(selection.Move{Captain: turn.Captain, Invites: b.Pool()[0], Answer: selection.Accepts}); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

func evaluation(t testing.TB, s *sample, b *selection.Board, opt Options) *Evaluation {
	t.Helper()
	e, err := New(s.fit, b, opt)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// TestGamesAgainstDrawnMatches holds the chance of a game, by moments, to the
// share of matches that package simulate draws in the same world.
func TestGamesAgainstDrawnMatches(t *testing.T) {
	t.Parallel()
	s := small()
	m := newModel(s.fit, 1)
	c := m.newCaps()
	rng := rand.New(rand.NewPCG(3, 3))
	run := m.engine.NewRun(rng)
	_, fouls := s.fit.Fouls()
	const draws = 6000
	var bias, off float64
	const pairs = 12
	for range pairs {
		run.DrawWorld()
		world := make([]moments, m.n)
		for i, x := range run.World {
			world[i] = m.robot(i, x)
		}
		order := rng.Perm(m.n)
		red, blue := order[:3], order[3:6]
		p := wins(m.alliance(red, world, c.of(red)), m.alliance(blue, world, c.of(blue)), fouls)
		won, lost := 0.0, 0.0
		for range draws {
			switch run.Play(&simulate.Lineup{Robots: red}, &simulate.Lineup{Robots: blue}).Winner() {
			case 0:
				won++
			case 1:
				lost++
			}
		}
		d := p - won/(won+lost)
		bias += d * (2*math.Round(p) - 1) / pairs // towards the favourite
		off += math.Abs(d) / pairs
	}
	// A drawn share has a standard error of 0.0065.
	if off > 0.025 || math.Abs(bias) > 0.012 {
		t.Errorf("chances of games are off by %.4f on average, towards the favourite by %+.4f", off, bias)
	}
	t.Logf("chances of games are off by %.4f on average, towards the favourite by %+.4f", off, bias)
}

// TestWinsAgainstGamma: of two gamma laws with one scale and shapes k and m the
// first is larger with probability I½(m, k), the regularised incomplete beta
// function (Johnson, Kotz and Balakrishnan 1995, Continuous Univariate
// Distributions 2, chapter 25, from memory).
func TestWinsAgainstGamma(t *testing.T) {
	t.Parallel()
	law := func(k float64) side { return side{mean: k, variance: k, third: 2 * k, fourth: 6 * k} }
	for _, tt := range []struct{ k, m, off float64 }{
		{20, 20, 1e-9}, {25, 16, 0.0005}, {30, 14, 0.001}, {16, 25, 0.0005}, {12, 6, 0.003}, {60, 30, 0.0005},
	} {
		want := mathext.RegIncBeta(tt.m, tt.k, 0.5)
		if got := wins(law(tt.k), law(tt.m), 0); math.Abs(got-want) > tt.off {
			t.Errorf("shapes %v and %v: %.5f, exactly %.5f", tt.k, tt.m, got, want)
		}
	}
}

// TestLastPickAgainstBracket: at the last pick nothing of the selection is left
// to chance, so a candidate's chance to win is what drawing playoffs of these
// alliances gives. What caps take is learned from a few drawn matches, the same
// for all worlds of an evaluation, so several are needed to tell the error.
func TestLastPickAgainstBracket(t *testing.T) {
	t.Parallel()
	s := small()
	b := s.board(t, 15)
	turn, _ := b.Turn()
	const times = 6
	var teams []record.TeamID
	chances := map[record.TeamID][]float64{}
	for seed := range times {
		e := evaluation(t, s, b, Options{Our: turn.Captain, Seed: uint64(5 + seed)})
		if err := e.Run(context.Background(), 400); err != nil {
			t.Fatal(err)
		}
		a := e.Advice()
		if seed == 0 {
			teams = []record.TeamID{a.Candidates[0].Team, a.Candidates[len(a.Candidates)/2].Team}
		}
		for _, c := range a.Candidates {
			chances[c.Team] = append(chances[c.Team], c.EventWin)
		}
	}
	for _, team := range teams {
		done := b.Clone()
		if err := done.Move(selection.Move{Captain: turn.Captain, Invites: team, Answer: selection.Accepts}); err != nil {
			t.Fatal(err)
		}
		var all []record.SelectedAlliance
		for _, x := range done.Alliances() {
			all = append(all, record.SelectedAlliance{Alliance: x.Alliance, Captain: x.Captain, Picks: x.Picks})
		}
		br, err := bracket.Simulate(s.fit, s.ev, all, 6000, rand.New(rand.NewPCG(6, 0)))
		if err != nil {
			t.Fatal(err)
		}
		got := br.Alliances[turn.Alliance-1]
		mean, sd := stat.MeanStdDev(chances[team], nil)
		if se := math.Hypot(got.SE, sd/math.Sqrt(times)); math.Abs(got.Win-mean) > 3*se {
			t.Errorf("%s: wins the event with %.4f, drawn playoffs say %.4f, three standard errors are %.4f", team, mean, got.Win, 3*se)
		} else {
			t.Logf("%s: wins the event with %.4f, drawn playoffs say %.4f, the standard error is %.4f", team, mean, got.Win, se)
		}
	}
}

func TestSameNumbersOnAnyCores(t *testing.T) {
	t.Parallel()
	s := small()
	b := s.board(t, 3)
	turn, _ := b.Turn()
	var all []*record.Advice
	for _, workers := range []int{1, 3} {
		e := evaluation(t, s, b, Options{Our: turn.Captain, Seed: 9, Workers: workers})
		for _, batch := range [][]int{{40}, {10, 30}}[workers/2] {
			if err := e.Run(context.Background(), batch); err != nil {
				t.Fatal(err)
			}
		}
		all = append(all, e.Advice())
	}
	if d := gocmp.Diff(all[0], all[1]); d != "" {
		t.Error(d)
	}
}

// TestCommonRandomNumbers prints by how much common luck, and going through the
// playoff instead of drawing it, cut the variance of differences in worth, and
// holds that they do.
func TestCommonRandomNumbers(t *testing.T) {
	t.Parallel()
	s := small()
	for _, tt := range []struct {
		name  string
		picks int
		least float64 // what common luck has to cut alone
	}{{"FirstPick", 0, 1}, {"LastPick", 15, 2}} {
		b := s.board(t, tt.picks)
		turn, _ := b.Turn()
		run := func(seed uint64) *Evaluation {
			e := evaluation(t, s, b, Options{Our: turn.Captain, Seed: seed})
			if err := e.Run(context.Background(), 300); err != nil {
				t.Fatal(err)
			}
			return e
		}
		one, two := run(1), run(2)
		order, _ := one.rank()
		var common, apart, drawn float64
		for _, k := range order[1:8] {
			common += variance(one, k, one, order[0])
			apart += variance(one, k, two, order[0])
			p, q := mean(one.win, one.worth, len(one.candidates), k), mean(one.win, one.worth, len(one.candidates), order[0])
			drawn += p*(1-p) + q*(1-q)
		}
		t.Logf("%s: variance of differences among the first eight cut by %.1f by common luck, by %.0f against playoffs drawn apart", tt.name, apart/common, drawn/common)
		if apart/common < tt.least || drawn/common < 3 {
			t.Errorf("%s: variance of differences cut by %.2f by common luck, by %.1f against playoffs drawn apart", tt.name, apart/common, drawn/common)
		}
	}
}

// variance of the difference in worth of candidate j of a and k of b, by world.
func variance(a *Evaluation, j int, b *Evaluation, k int) float64 {
	n := len(a.candidates)
	var sum, square, count float64
	for at := 0; at < len(a.worth); at += n {
		d := float64(a.worth[at+j] - b.worth[at+k])
		sum += d
		square += d * d
		count++
	}
	return square/count - sum*sum/count/count
}

// TestStandardErrors holds the standard errors of differences to how far the
// differences of other random numbers scatter: on our turn, when every candidate
// is there in every world, and before it, when the first ones may be gone.
func TestStandardErrors(t *testing.T) {
	t.Parallel()
	s := small()
	const times, worlds, asked = 20, 12, 8
	for _, tt := range []struct {
		name string
		our  int // place in the ranking
		gone bool
	}{{"OnOurTurn", 0, false}, {"BeforeIt", 3, true}} {
		var diffs [asked][]float64
		var squares [asked]float64
		gone := false
		for seed := range times {
			e := evaluation(t, s, s.board(t, 0), Options{Our: s.ranking[tt.our], Seed: uint64(100 + seed)})
			if err := e.Run(context.Background(), worlds); err != nil {
				t.Fatal(err)
			}
			means, n := e.means()
			for k := range asked {
				d := e.difference(k+12, 10, means, n) // in the order of the ranking, so that some are there in most worlds
				diffs[k] = append(diffs[k], d.mean)
				squares[k] += d.se * d.se / times
				gone = gone || n[k+12] < worlds
			}
		}
		ratio := 0.0
		for k := range asked {
			ratio += squares[k] / stat.Variance(diffs[k], nil) / asked
		}
		t.Logf("%s: squared standard errors are %.2f times what is seen", tt.name, ratio)
		if ratio < 0.6 || ratio > 1.6 || gone != tt.gone {
			t.Errorf("%s: squared standard errors are %.2f times what is seen; gone in some worlds: %v", tt.name, ratio, gone)
		}
	}
}

func TestAdvice(t *testing.T) {
	t.Parallel()
	s := small()
	ctx := context.Background()

	// On our turn.
	b := s.board(t, 2)
	turn, _ := b.Turn()
	e := evaluation(t, s, b, Options{Our: turn.Captain, Seed: 4, Never: []record.TeamID{s.ranking[9]}})
	shown := 0
	a, err := e.Refine(ctx, 0.01, 400, func(*record.Advice) bool { shown++; return true })
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range a.Candidates {
		if a.Runs < 400 && c.SE > 0.01 {
			t.Errorf("%s: ended at a standard error of %v after %d worlds", c.Team, c.SE, a.Runs)
		}
	}
	if a.Runs == 400 {
		t.Error("the standard errors were not reached, so nothing was shown")
	}
	if !a.OurTurn || a.OurAlliance != turn.Alliance || a.Pick != turn.Pick || a.NextPick != 16-turn.Pick+1 || a.Invitation != nil || shown < 2 {
		t.Errorf("our turn: %+v after %d pictures", a, shown)
	}
	best, pool := 0.0, b.Pool()
	for i, c := range a.Candidates {
		best += c.BestIn
		if i > 0 && c.Worth > a.Candidates[i-1].Worth {
			t.Errorf("candidates are out of order at %d", i)
		}
		if !slices.Contains(pool, c.Team) || c.Team == s.ranking[9] {
			t.Errorf("%s cannot be called", c.Team)
		}
		if c.Worth != c.EventWin || c.Final < c.EventWin || c.HereNextTurn < 0 || c.HereNextTurn > 1 || c.Reason == "" || c.Then == nil {
			t.Errorf("%+v", c)
		}
	}
	if math.Abs(best-1) > 1e-6 || len(a.Candidates) != len(pool)-1 {
		t.Errorf("best in %v of the worlds, %d candidates of %d", best, len(a.Candidates), len(pool))
	}

	// Before our turn: the captain on the clock may invite us.
	later := b.Captains()[5]
	e = evaluation(t, s, b, Options{Our: later, Seed: 4, Pins: []Pin{{Captain: turn.Captain, Team: pool[0], Kind: Agreed}}})
	if a, err = e.Refine(ctx, 0.02, 300, nil); err != nil {
		t.Fatal(err)
	}
	if a.OurTurn || a.OurAlliance != 6 || a.Invitation == nil || a.Invitation.Captain != turn.Captain || a.Invitation.Accept.Worth <= 0 || a.Invitation.Decline.Worth <= 0 {
		t.Errorf("before our turn: %+v, invitation %+v", a, a.Invitation)
	}
	for _, c := range a.Candidates {
		if c.Team == pool[0] {
			t.Errorf("%s is agreed to go elsewhere and is a candidate: %+v", c.Team, c)
		}
	}
}

func TestWorthByPlace(t *testing.T) {
	t.Parallel()
	s := small()
	b := s.board(t, 2)
	turn, _ := b.Turn()
	e := evaluation(t, s, b, Options{Our: turn.Captain, Seed: 4, Worth: func(int) float64 { return 0.25 }})
	if err := e.Run(context.Background(), 20); err != nil {
		t.Fatal(err)
	}
	for _, c := range e.Advice().Candidates {
		if math.Abs(c.Worth-0.25) > 1e-6 {
			t.Errorf("every place is worth 0.25, and %s gives %v", c.Team, c.Worth)
		}
	}
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	s := small()
	b := s.board(t, 0)
	for name, opt := range map[string]Options{
		"Our":  {Our: "99999"},
		"Pin":  {Our: s.ranking[0], Pins: []Pin{{Captain: "99999", Team: s.ranking[1], Kind: Wants}}},
		"Kind": {Our: s.ranking[0], Pins: []Pin{{Captain: s.ranking[1], Team: s.ranking[2], Kind: "hopes"}}},
	} {
		if _, err := New(s.fit, b, opt); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// BenchmarkSelect is the first call at an event of 60 robots, all candidates.
func BenchmarkSelect(b *testing.B) {
	s := full()
	board := s.board(b, 2)
	turn, _ := board.Turn()
	b.Run("New", func(b *testing.B) {
		for b.Loop() {
			evaluation(b, s, board, Options{Our: turn.Captain, Seed: 1})
		}
	})
	b.Run("FirstPicture", func(b *testing.B) {
		for b.Loop() {
			e := evaluation(b, s, board, Options{Our: turn.Captain, Seed: 1})
			if err := e.Run(context.Background(), firstBatch); err != nil {
				b.Fatal(err)
			}
			e.Advice()
		}
	})
	b.Run("Refined", func(b *testing.B) {
		runs := 0
		for b.Loop() {
			a, err := evaluation(b, s, board, Options{Our: turn.Captain, Seed: 1}).Refine(context.Background(), 0.005, 4000, nil)
			if err != nil {
				b.Fatal(err)
			}
			runs = a.Runs
		}
		b.ReportMetric(float64(runs), "worlds")
	})
}

// BenchmarkWorlds is how the cost of 200 worlds grows with the robots of an
// event, which are the candidates: deploy/bench prints it.
func BenchmarkWorlds(b *testing.B) {
	for _, s := range []*sample{small(), full()} {
		board := s.board(b, 2)
		turn, _ := board.Turn()
		b.Run(strconv.Itoa(len(s.ranking)), func(b *testing.B) {
			for b.Loop() {
				if err := evaluation(b, s, board, Options{Our: turn.Captain, Seed: 1}).Run(context.Background(), 200); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
