package contrib

import (
	"math"
	"math/rand/v2"
	"testing"

	"sextant/stats/contrib/contribtest"
	"sextant/stats/record"
)

// Jeffreys' interval against mpmath and scipy; see the file's SOURCE.md. The
// clustered one tends to it as matches become alike.
func TestJeffreysReference(t *testing.T) {
	t.Parallel()
	var file struct {
		Cases []struct {
			Successes, Trials, Confidence float64
			Jeffreys                      [2]float64
		}
	}
	readReference(t, "worked_examples/binomial_intervals.json", &file)
	if len(file.Cases) < 10 {
		t.Fatalf("%d cases: the file is not what it was", len(file.Cases))
	}
	for _, c := range file.Cases {
		low, high := jeffreys(c.Successes, c.Trials, c.Confidence)
		if math.Abs(low-c.Jeffreys[0]) > 1e-9 || math.Abs(high-c.Jeffreys[1]) > 1e-9 {
			t.Errorf("%v of %v at %v: %v to %v, want %v", c.Successes, c.Trials, c.Confidence, low, high, c.Jeffreys)
		}
		s := shots{made: []int{int(c.Successes)}, missed: []int{int(c.Trials - c.Successes)}}
		low, high = s.interval(1e-8, c.Confidence)
		if math.Abs(low-c.Jeffreys[0]) > 2e-4 || math.Abs(high-c.Jeffreys[1]) > 2e-4 {
			t.Errorf("%v of %v without correlation: %v to %v, want %v", c.Successes, c.Trials, low, high, c.Jeffreys)
		}
	}
}

// The beta-binomial interval against scipy's integral; see the file's SOURCE.md.
func TestAccuracyReference(t *testing.T) {
	t.Parallel()
	var file struct {
		Cases []struct {
			Name        string
			Made, Tries []int
			Rho         float64
			Interval    [2]float64 `json:"interval_80"`
		}
	}
	readReference(t, "accuracy/accuracy.json", &file)
	if len(file.Cases) < 7 {
		t.Fatalf("%d cases: the file is not what it was", len(file.Cases))
	}
	for _, c := range file.Cases {
		s := shots{made: c.Made}
		for k, n := range c.Tries {
			s.missed = append(s.missed, n-c.Made[k])
		}
		low, high := s.interval(c.Rho, 0.8)
		if math.Abs(low-c.Interval[0]) > 1e-4 || math.Abs(high-c.Interval[1]) > 1e-4 {
			t.Errorf("%s: %v to %v, want %v", c.Name, low, high, c.Interval)
		}
	}
}

// invented draws shots of robots with shares from low to high; a match's own
// share is Beta with the correlation rho around it.
func invented(rng *rand.Rand, robots, matches int, low, high, rho float64) (shares []float64, by []shots) {
	gamma := func(a float64) float64 { // Marsaglia and Tsang 2000, doi:10.1145/358407.358414
		boost := 1.0
		if a < 1 {
			boost = math.Pow(rng.Float64(), 1/a)
			a++
		}
		d := a - 1.0/3
		for {
			x := rng.NormFloat64()
			v := 1 + x/math.Sqrt(9*d)
			if v > 0 && math.Log(rng.Float64()) < x*x/2+d-d*v*v*v+d*math.Log(v*v*v) {
				return boost * d * v * v * v
			}
		}
	}
	for range robots {
		p := low + (high-low)*rng.Float64()
		var s shots
		for range matches {
			share := p
			if rho > 0 {
				a, b := gamma(p*(1-rho)/rho), gamma((1-p)*(1-rho)/rho)
				share = a / (a + b)
			}
			made, missed := 0, 0
			for range 6 + rng.IntN(12) {
				if rng.Float64() < share {
					made++
				} else {
					missed++
				}
			}
			s.made, s.missed = append(s.made, made), append(s.missed, missed)
		}
		shares, by = append(shares, p), append(by, s)
	}
	return shares, by
}

func TestCorrelation(t *testing.T) {
	t.Parallel()
	for _, rho := range []float64{0, 0.05, 0.2} {
		_, by := invented(rand.New(rand.NewPCG(1, uint64(1000*rho))), 400, 10, 0.4, 0.9, rho)
		if got := correlation(by); math.Abs(got-rho) > 0.01 {
			t.Errorf("correlation %.3f, drawn with %.3f", got, rho)
		}
	}
	if got := correlation(nil); math.Abs(got-priorCorrelation) > 1e-12 {
		t.Errorf("without shots %v, want what is believed before", got)
	}
}

// Trade fact (common practice, no source): a good shooter misses 5 to 10 % of
// its shots. Through the whole estimate, after a weekend of 12 matches, the
// interval says so: it holds the truth as often as it claims, it is narrow, and
// it does not pretend that the shots of one match were so many proofs.
func TestAccuracyOfGoodShooters(t *testing.T) {
	t.Parallel()
	const robots, matches = 60, 12
	var covered, plain, says, n float64
	var opt Options // the noise of the points is fitted once
	for seed := range uint64(8) {
		shares, by := invented(rand.New(rand.NewPCG(seed, 5)), robots, matches, 0.90, 0.95, 0.08)
		ev := &record.Event{Game: contribtest.Game()}
		for r, s := range by {
			team := record.TeamID(string(rune('1'+r/10)) + string(rune('0'+r%10)))
			ev.Teams = append(ev.Teams, record.Team{ID: team})
			for m := range s.made {
				o := observed(1+m, team, nil, nil, "")
				o.Counts["high"] = record.Tally{Made: number(float64(s.made[m])), Missed: number(float64(s.missed[m]))}
				ev.Observations = append(ev.Observations, o)
			}
		}
		fit := mustEstimate(t, ev, opt)
		kept := fit.Components()
		opt.Components = &kept
		for r, team := range fit.Record().Teams {
			a := team.Actions["high"].Accuracy
			made, tries := by[r].total()
			if a == nil || a.Tries != tries || math.Abs(a.Share-float64(made)/float64(tries)) > 1e-12 {
				t.Fatalf("team %s: %+v, want %d of %d", team.Team, a, made, tries)
			}
			if a.Low <= shares[r] && shares[r] <= a.High {
				covered++
			}
			if low, high := jeffreys(float64(made), float64(tries), 0.8); low <= shares[r] && shares[r] <= high {
				plain++
			}
			if a.Low > 0.8 && a.High < 0.99 && a.High-a.Low < 0.12 {
				says++
			}
			n++
		}
	}
	if c := covered / n; c < 0.75 || c > 0.86 {
		t.Errorf("80 %% intervals hold the true share in %.3f of %v", c, n)
	}
	if plain >= covered-0.05*n {
		t.Errorf("taking shots for independent holds %.3f, clustered %.3f: the difference is what this is about", plain/n, covered/n)
	}
	if says < 0.9*n {
		t.Errorf("only %.2f of the intervals lie between 80 and 99 %% and are less than 12 points wide", says/n)
	}
}

// Two shots say little, misses that nobody watched nothing, and two scouts of
// one match are not twice the shots.
func TestAccuracy(t *testing.T) {
	t.Parallel()
	ev := &record.Event{Game: contribtest.Game(), Teams: []record.Team{{ID: "1"}, {ID: "2"}, {ID: "3"}, {ID: "4"}}}
	shot := func(team record.TeamID, match int, scout string, made, missed *float64) {
		o := observed(match, team, nil, nil, "")
		o.Scout = scout
		o.Counts["high"] = record.Tally{Made: made, Missed: missed}
		ev.Observations = append(ev.Observations, o)
	}
	for m := 1; m <= 12; m++ {
		shot("1", m, "s01", number(11), number(float64(m%2+m%4/3))) // 141 shots, 9 of them missed
	}
	shot("2", 1, "s01", number(2), number(0))
	shot("3", 1, "s01", number(5), nil)
	acc := newEvidence(ev).actions()
	one, two := acc[0]["high"].Accuracy, acc[1]["high"].Accuracy
	if one == nil || one.Tries != 141 || math.Abs(one.Share-132.0/141) > 1e-12 {
		t.Fatalf("accuracy %+v, want 132 of 141", one)
	}
	if !(one.Low > 0.88 && one.Low < 0.93 && one.High > 0.94 && one.High < 0.97) {
		t.Errorf("132 of 141: %.3f to %.3f, want about 0.90 to 0.96", one.Low, one.High)
	}
	if two == nil || two.High != 1 || two.Low > 0.7 {
		t.Errorf("2 of 2: %+v: two shots prove nothing", two)
	}
	if acc[2]["high"].Accuracy != nil || acc[3]["high"].Accuracy != nil {
		t.Error("an accuracy without misses watched")
	}
	for m := 1; m <= 12; m++ {
		shot("1", m, "s02", number(11), number(float64(m%2+m%4/3)))
	}
	if again := newEvidence(ev).actions()[0]["high"].Accuracy; again.Tries != 141 || again.Low != one.Low || again.High != one.High {
		t.Errorf("seen by two scouts %+v, by one %+v: want the same", again, one)
	}
}
