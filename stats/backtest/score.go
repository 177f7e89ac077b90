package backtest

import "math"

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

// summarize scores forecasts, at least one; Skipped is left to the caller.
func summarize(matches []Match) Summary {
	s := Summary{Forecast: len(matches)}
	n := float64(len(matches))
	for _, m := range matches {
		p, o := m.Chance.Red+m.Chance.Tie/2, outcome(m.RedScore, m.BlueScore)
		s.Brier += Brier(p, o) / n
		s.LogLoss += LogLoss(p, o) / n
		s.Correct += correct(p, o) / n
		s.ScoreMAE += (math.Abs(m.RedScore-m.Red.Mean) + math.Abs(m.BlueScore-m.Blue.Mean)) / (2 * n)
		if m.Red.P10 <= m.RedScore && m.RedScore <= m.Red.P90 {
			s.Coverage80 += 1 / (2 * n)
		}
		if m.Blue.P10 <= m.BlueScore && m.BlueScore <= m.Blue.P90 {
			s.Coverage80 += 1 / (2 * n)
		}
	}
	return s
}
