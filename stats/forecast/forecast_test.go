package forecast

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/mathext"

	"sextant/stats/contrib"
	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
	"sextant/stats/simulate"
)

// Φ against Abramowitz and Stegun, table 26.1, and 50-digit tails; the file's
// SOURCE.md says how the digits were computed.
func TestNormalCDF(t *testing.T) {
	t.Parallel()
	body, err := os.ReadFile(filepath.Join("..", "..", "testdata", "reference", "worked_examples", "normal.json"))
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Table []struct {
			X float64 `json:"x"`
			P string  `json:"P"`
		} `json:"table"`
		Tails []struct {
			X, CDF, Upper float64
		} `json:"tails"`
		Quantiles []struct{ P, Z float64 } `json:"quantiles"`
	}
	if err := json.Unmarshal(body, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.Table) < 100 || len(file.Tails) < 10 {
		t.Fatalf("%d rows and %d tails: the file is not what it was", len(file.Table), len(file.Tails))
	}
	for _, row := range file.Table {
		want, err := strconv.ParseFloat(row.P, 64)
		if err != nil {
			t.Fatal(err)
		}
		tol := 0.5 * math.Pow(10, -float64(len(row.P)-2)) // half of the last digit printed
		if got := normalCDF(row.X, 1); math.Abs(got-want) > tol+2e-16 {
			t.Errorf("Φ(%v) = %.17g, want %s", row.X, got, row.P)
		}
	}
	for _, row := range file.Tails {
		if got := normalCDF(2*row.X, 2); math.Abs(got-row.CDF) > 1e-12*row.CDF+1e-320 {
			t.Errorf("Φ(%v) = %v, want %v", row.X, got, row.CDF)
		}
	}
	for _, q := range file.Quantiles {
		if q.P == 0.9 && math.Abs(q.Z-z90) > 1e-15 {
			t.Errorf("Φ⁻¹(0.9) = %.17g, want %.17g", z90, q.Z)
		}
	}
	if normalCDF(1, 0) != 1 || normalCDF(-1, 0) != 0 || normalCDF(0, 0) != 0.5 {
		t.Error("without any doubt the sign decides")
	}
}

func world(t *testing.T, seed uint64, watched float64) (*record.Event, *contrib.Fit) {
	t.Helper()
	ev := contribtest.New(rand.New(rand.NewPCG(seed, 21)), contribtest.Options{
		Robots: 24, Matches: 40, Watched: watched, Noise: 1, Fouls: true, Stops: watched > 0,
	}).Event
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return ev, fit
}

func between(ev *record.Event, red, blue [3]int) *record.Match {
	m := &record.Match{ID: record.MatchID{Stage: record.Qualification, Number: 99}, Play: 1}
	for k := range 3 {
		m.Red.Teams = append(m.Red.Teams, ev.Teams[red[k]].ID)
		m.Blue.Teams = append(m.Blue.Teams, ev.Teams[blue[k]].ID)
	}
	return m
}

func forecastOf(t *testing.T, f *contrib.Fit, m *record.Match) record.Forecast {
	t.Helper()
	got, err := Match(f, m)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// The definition, summed up once more from the fit's own figures.
func TestMatchFromCovariance(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.9} {
		ev, fit := world(t, 1, watched)
		red, blue := [3]int{0, 5, 9}, [3]int{2, 7, 11}
		got := forecastOf(t, fit, between(ev, red, blue))
		foulMean, foulVar := fit.Fouls()
		side := func(robots [3]int) (mean, variance float64) {
			mean, variance = foulMean+fit.Rest(3), foulVar+fit.MatchVariance(robots[:]...)
			for _, i := range robots {
				mean += fit.Mean(i)
				for _, j := range robots {
					variance += fit.Cov(i, j)
				}
			}
			return mean, variance
		}
		redMean, redVar := side(red)
		blueMean, blueVar := side(blue)
		var cov float64
		for _, i := range red {
			for _, j := range blue {
				cov += fit.Cov(i, j)
			}
		}
		if math.Abs(cov) < 0.1 {
			t.Fatalf("covariance between alliances is %v: this event does not show whether it counts", cov)
		}
		sd := math.Sqrt(redVar + blueVar - 2*cov)
		d := redMean - blueMean
		phi := func(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }
		want := record.Chance{Red: 1 - phi((0.5-d)/sd), Blue: phi((-0.5 - d) / sd)}
		want.Tie = 1 - want.Red - want.Blue
		for what, pair := range map[string][2]float64{
			"red mean": {got.Red.Mean, redMean}, "red sd": {got.Red.SD, math.Sqrt(redVar)},
			"blue mean": {got.Blue.Mean, blueMean}, "blue sd": {got.Blue.SD, math.Sqrt(blueVar)},
			"red": {got.Chance.Red, want.Red}, "blue": {got.Chance.Blue, want.Blue}, "tie": {got.Chance.Tie, want.Tie},
		} {
			if math.Abs(pair[0]-pair[1]) > 1e-12*math.Max(1, math.Abs(pair[1])) {
				t.Errorf("watched %v, %s: %v, want %v", watched, what, pair[0], pair[1])
			}
		}
		// Whole points, outwards.
		if s := got.Red; s.P10 != math.Trunc(s.P10) || s.P90 != math.Trunc(s.P90) || s.P10 >= s.Mean || s.P90 <= s.Mean {
			t.Errorf("interval %v to %v around %v", s.P10, s.P90, s.Mean)
		}
	}
}

func TestMatchRedAndBlueExchanged(t *testing.T) {
	t.Parallel()
	ev, fit := world(t, 2, 0.9)
	a := forecastOf(t, fit, between(ev, [3]int{0, 1, 2}, [3]int{3, 4, 5}))
	b := forecastOf(t, fit, between(ev, [3]int{3, 4, 5}, [3]int{0, 1, 2}))
	want := record.Forecast{Match: a.Match, Red: b.Blue, Blue: b.Red, Chance: record.Chance{Red: b.Chance.Blue, Blue: b.Chance.Red, Tie: b.Chance.Tie}}
	if diff := cmp.Diff(want, a, cmp.Comparer(func(x, y float64) bool { return math.Abs(x-y) < 1e-9 })); diff != "" {
		t.Error(diff)
	}
	if s := a.Chance.Red + a.Chance.Blue + a.Chance.Tie; math.Abs(s-1) > 1e-12 {
		t.Errorf("chances sum to %v", s)
	}
}

// The result is not looked at; who does not show up is.
func TestMatchReadsLineUpsOnly(t *testing.T) {
	t.Parallel()
	ev, fit := world(t, 3, 0.9)
	m := between(ev, [3]int{0, 1, 2}, [3]int{3, 4, 5})
	bare := forecastOf(t, fit, m)
	m.Red.Result = &record.Result{Score: 900}
	m.Blue.Result = &record.Result{Score: 1}
	if diff := cmp.Diff(bare, forecastOf(t, fit, m)); diff != "" {
		t.Errorf("the result moves the forecast:\n%s", diff)
	}
	m.Red.Absent = m.Red.Teams[:1]
	if got := forecastOf(t, fit, m); math.Abs(bare.Red.Mean-got.Red.Mean-fit.Mean(0)-fit.Rest(1)) > 1e-9 || got.Chance.Red >= bare.Chance.Red {
		t.Errorf("red without team %s: %.1f, chance %.2f; with it %.1f, %.2f", m.Red.Teams[0], got.Red.Mean, got.Chance.Red, bare.Red.Mean, bare.Chance.Red)
	}
}

func TestMatchRefuses(t *testing.T) {
	t.Parallel()
	ev, fit := world(t, 4, 0)
	cases := map[string]struct {
		change func(*record.Match)
		says   string
	}{
		"UnknownTeam": {func(m *record.Match) { m.Red.Teams[1] = "7777" }, "team 7777"},
		"Twice":       {func(m *record.Match) { m.Red.Teams[1] = m.Red.Teams[0] }, "twice"},
		"BothSides":   {func(m *record.Match) { m.Red.Teams[1] = m.Blue.Teams[0] }, "both alliances"},
		"NoTeams":     {func(m *record.Match) { m.Blue.Teams = nil }, "blue alliance has no teams"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			m := between(ev, [3]int{0, 1, 2}, [3]int{3, 4, 5})
			c.change(m)
			if _, err := Match(fit, m); err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "Q99") {
				t.Errorf("error %v, want one that says %q and Q99", err, c.says)
			}
		})
	}
}

// The interval is skewed like a gamma law, whose quantiles gonum computes by
// inverting the incomplete gamma function.
func TestSpreadIsSkewed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ mean, sd float64 }{{100, 20}, {60, 18}, {300, 45}} {
		shape := c.mean * c.mean / (c.sd * c.sd)
		low := c.mean / shape * mathext.GammaIncRegInv(shape, 0.1)
		high := c.mean / shape * mathext.GammaIncRegInv(shape, 0.9)
		got := spread(c.mean, c.sd*c.sd, 2*c.sd/c.mean)
		if got.P10 > low+0.02*c.sd || got.P10 < low-1-0.02*c.sd || got.P90 < high-0.02*c.sd || got.P90 > high+1+0.02*c.sd {
			t.Errorf("mean %v sd %v: 80 %% interval %v to %v, gamma law %.2f to %.2f", c.mean, c.sd, got.P10, got.P90, low, high)
		}
	}
	if zero := spread(0, 4, 0); zero.P10 != -3 || zero.P90 != 3 {
		t.Errorf("around a mean of 0: %v to %v, want −3 to 3", zero.P10, zero.P90)
	}
}

// With one match played hardly anything is known of the level, which moves both
// alliances and so must not make the margin uncertain.
func TestMatchSharedLevelCancels(t *testing.T) {
	t.Parallel()
	ev, _ := world(t, 5, 0)
	early := &record.Event{Game: ev.Game, Teams: ev.Teams, Matches: ev.Matches[:1]}
	fit, err := contrib.Estimate(early, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	m := between(ev, [3]int{0, 1, 2}, [3]int{3, 4, 5})
	got := forecastOf(t, fit, m)
	sure := math.Hypot(got.Red.SD, got.Blue.SD)
	margin := got.Red.Mean - got.Blue.Mean
	if c := chance(margin, sure); math.Abs(c.Tie-got.Chance.Tie) < 1e-6 || c.Tie > got.Chance.Tie {
		t.Errorf("chance of a tie %v; as if the alliances were independent %v: the covariance does not count", got.Chance.Tie, c.Tie)
	}
}

// Chances hold what they promise, in the model's own terms: margins drawn from
// the forecast's normal law fall on red, blue and tie as often as it says.
func TestChanceBySimulation(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(8, 8))
	const n, margin, sd = 200_000, 1.2, 6.0
	var red, blue, tie float64
	for range n {
		switch d := math.Round(margin + sd*rng.NormFloat64()); {
		case d > 0:
			red++
		case d < 0:
			blue++
		default:
			tie++
		}
	}
	c := chance(margin, sd)
	for what, p := range map[string][2]float64{"red": {c.Red, red / n}, "blue": {c.Blue, blue / n}, "tie": {c.Tie, tie / n}} {
		if se := math.Sqrt(p[0] * (1 - p[0]) / n); math.Abs(p[0]-p[1]) > 4*se {
			t.Errorf("%s: %v, drawn %v", what, p[0], p[1])
		}
	}
}

// The interval and the standard deviation of a drawn forecast are those of
// other draws of the same match; the mean stays the closed form's but for caps.
func TestDrawnSpreadHolds(t *testing.T) {
	t.Parallel()
	for _, watched := range []float64{0, 0.9} {
		ev, fit := world(t, 9, watched)
		m := between(ev, [3]int{0, 1, 2}, [3]int{3, 4, 5})
		e := simulate.New(fit)
		f, err := Drawn(e, fit, m, rand.New(rand.NewPCG(1, 1)), 4000)
		if err != nil {
			t.Fatal(err)
		}
		red, blue, err := lineUps(fit, m)
		if err != nil {
			t.Fatal(err)
		}
		const n = 4000
		other := e.Forecast(rand.New(rand.NewPCG(2, 2)), red, blue, n)
		in := 0.0
		for _, x := range other.Red.Scores {
			if f.Red.P10 <= x && x <= f.Red.P90 {
				in += 1.0 / n
			}
		}
		// Both ends belong to it, so a little more than 80 %.
		if in < 0.78 || in > 0.85 {
			t.Errorf("watched %v: %v to %v holds %.3f of other draws", watched, f.Red.P10, f.Red.P90, in)
		}
		if r := f.Red.SD / other.Red.SD(); r < 0.94 || r > 1.06 {
			t.Errorf("watched %v: standard deviation %v, of other draws %v", watched, f.Red.SD, other.Red.SD())
		}
		if want := forecastOf(t, fit, m).Red.Mean - other.Red.Capped; math.Abs(f.Red.Mean-want) > 0.5 {
			t.Errorf("watched %v: mean %v, want %v", watched, f.Red.Mean, want)
		}
	}
}

func BenchmarkMatch(b *testing.B) {
	ev := contribtest.New(rand.New(rand.NewPCG(1, 7)), contribtest.Options{Robots: 60, Matches: 120, Watched: 0.95, Noise: 1}).Event
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		for i := range ev.Matches {
			if _, err := Match(fit, &ev.Matches[i]); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// Where caps make margins narrower, the chance to win says so: it is the share
// of other draws that red wins.
func TestDrawnChanceKnowsCaps(t *testing.T) {
	t.Parallel()
	ev, _ := world(t, 12, 0.9)
	most := 8.0
	g := *ev.Game
	g.Actions = slices.Clone(g.Actions)
	for i := range g.Actions {
		if g.Actions[i].ID == "high" {
			g.Actions[i].AllianceMax = &most
		}
	}
	capped := *ev
	capped.Game = &g
	fit, err := contrib.Estimate(&capped, contrib.Options{})
	if err != nil {
		t.Fatal(err)
	}
	var closed, drawn float64 // squares off what other draws say
	const matches = 12
	for k := range matches {
		m := between(ev, [3]int{k, k + 1, k + 2}, [3]int{k + 5, k + 7, k + 9})
		e := simulate.New(fit)
		f, err := Drawn(e, fit, m, rand.New(rand.NewPCG(1, uint64(k))), 2000)
		if err != nil {
			t.Fatal(err)
		}
		red, blue, err := lineUps(fit, m)
		if err != nil {
			t.Fatal(err)
		}
		other := e.Forecast(rand.New(rand.NewPCG(2, uint64(k))), red, blue, 2000)
		plain := match(fit, m.ID, red, blue, other.Red.Capped, other.Blue.Capped)
		drawn += math.Pow(f.Chance.Red-other.RedWins, 2) / matches
		closed += math.Pow(plain.Chance.Red-other.RedWins, 2) / matches
	}
	if drawn > 0.04*0.04 || drawn > 0.6*closed {
		t.Errorf("off other draws by %.3f, without the drawn margin by %.3f", math.Sqrt(drawn), math.Sqrt(closed))
	}
}
