package backtest

import (
	"cmp"
	"math"
	"slices"

	"sextant/stats/record"
)

// outcome is 1 when red won, ½ for a tie, 0 when blue won.
func outcome(red, blue float64) float64 {
	switch {
	case red > blue:
		return 1
	case red < blue:
		return 0
	}
	return 0.5
}

// Brier is the squared error of a probability (Brier 1950,
// doi:10.1175/1520-0493(1950)078<0001:VOFEIT>2.0.CO;2, in its half form for two
// outcomes): (p − o)², o in {0, ½, 1}.
func Brier(p, o float64) float64 { return (p - o) * (p - o) }

// logClip keeps one sure and wrong forecast from costing everything.
const logClip = 0.001

// LogLoss is the binary log loss −o·ln p − (1−o)·ln(1−p), with p clipped to [.001, .999].
func LogLoss(p, o float64) float64 {
	p = math.Min(1-logClip, math.Max(logClip, p))
	return -o*math.Log(p) - (1-o)*math.Log(1-p)
}

// correct is 1 when p is on the right side of ½, ½ for a tie or p = ½.
func correct(p, o float64) float64 {
	switch {
	case o == 0.5 || p == 0.5:
		return 0.5
	case (p > 0.5) == (o > 0.5):
		return 1
	}
	return 0
}

// CRPS is the continuous ranked probability score of a normal law, in units of
// y; smaller is better (Gneiting, Raftery, Westveld, Goldman 2005,
// doi:10.1175/MWR2904.1): sd·(z·(2Φ(z) − 1) + 2φ(z) − 1/√π), z = (y − mean)/sd.
func CRPS(mean, sd, y float64) float64 {
	z := (y - mean) / sd
	if math.IsInf(z, 0) || math.IsNaN(z) {
		return math.Abs(y - mean)
	}
	density := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	return sd * (z*math.Erf(z/math.Sqrt2) + 2*density - 1/math.Sqrt(math.Pi))
}

// Decompose splits the Brier score of chances p with outcomes o into
// reliability, resolution and uncertainty (Murphy 1973,
// doi:10.1175/1520-0450(1973)012<0595:ANVPOT>2.0.CO;2), p in bins of equal width.
func Decompose(p, o []float64, bins int) (reliability, resolution, uncertainty float64) {
	n := float64(len(p))
	count, chance, won := make([]float64, bins), make([]float64, bins), make([]float64, bins)
	var base float64
	for i := range p {
		k := min(bins-1, max(0, int(p[i]*float64(bins))))
		count[k]++
		chance[k] += p[i]
		won[k] += o[i]
		base += o[i] / n
	}
	for k := range count {
		if c := count[k]; c > 0 {
			reliability += c / n * square(chance[k]/c-won[k]/c)
			resolution += c / n * square(won[k]/c-base)
		}
	}
	return reliability, resolution, base * (1 - base)
}

func square(x float64) float64 { return x * x }

// Summarize scores forecasts, at least one; Skipped and RankingPoints are left
// to the caller.
func Summarize(matches []Match) Summary {
	s := Summary{Forecast: len(matches)}
	n := float64(len(matches))
	type side struct {
		record.ScoreSpread
		score float64
	}
	var chances, outcomes []float64
	var sides []side
	for i := range matches {
		m := &matches[i]
		p, o := m.Chance.Red+m.Chance.Tie/2, outcome(m.RedScore, m.BlueScore)
		chances, outcomes = append(chances, p), append(outcomes, o)
		s.Brier += Brier(p, o) / n
		s.LogLoss += LogLoss(p, o) / n
		s.Correct += correct(p, o) / n
		sides = append(sides, side{m.Red, m.RedScore}, side{m.Blue, m.BlueScore})
	}
	in := func(ok bool) float64 {
		if ok {
			return 1
		}
		return 0
	}
	held := func(x *side) bool { return x.P10 <= x.score && x.score <= x.P90 }
	for i := range sides {
		x := &sides[i]
		off := math.Abs(x.score - x.Mean)
		s.ScoreMAE += off / (2 * n)
		s.Coverage80 += in(held(x)) / (2 * n)
		s.Coverage50 += in(off <= 0.6744897501960817*x.SD) / (2 * n)
		s.Coverage95 += in(off <= 1.959963984540054*x.SD) / (2 * n)
		s.CRPS += CRPS(x.Mean, x.SD, x.score) / (2 * n)
	}
	s.Reliability, s.Resolution, s.Uncertainty = Decompose(chances, outcomes, 10)
	slices.SortStableFunc(sides, func(a, b side) int { return cmp.Compare(a.Mean, b.Mean) })
	tier := func(part []side) (t Tier) {
		t.Alliances = len(part)
		for i := range part {
			t.Bias += (part[i].score - part[i].Mean) / float64(len(part))
			t.Coverage80 += in(held(&part[i])) / float64(len(part))
		}
		return t
	}
	quarter := max(1, len(sides)/4)
	s.Weakest, s.Strongest = tier(sides[:quarter]), tier(sides[len(sides)-quarter:])
	return s
}

// rankingPoints is the Brier score of each ranking point that was forecast and
// whose condition the official results can be asked for.
func rankingPoints(ev *record.Event, matches []Match) map[string]float64 {
	played := map[record.MatchID]*record.Match{}
	for i := range ev.Matches {
		m := &ev.Matches[i]
		if have, ok := played[m.ID]; m.Played() && (!ok || m.Play > have.Play) {
			played[m.ID] = m
		}
	}
	out, n := map[string]float64{}, map[string]float64{}
	for i := range matches {
		f := &matches[i]
		m, ok := played[f.Match]
		if !ok {
			continue
		}
		for k := range ev.Game.RankingPoints {
			p := &ev.Game.RankingPoints[k]
			for _, c := range []record.Colour{record.Red, record.Blue} {
				chance, told := f.RankingPoints[c][p.ID]
				got, known := m.Gained(ev.Game, &p.When, c)
				if !told || !known {
					continue
				}
				o := 0.0
				if got {
					o = 1
				}
				out[p.ID] += Brier(chance, o)
				n[p.ID]++
			}
		}
	}
	for id := range out {
		out[id] /= n[id]
	}
	if len(out) == 0 {
		return nil
	}
	return out
}
