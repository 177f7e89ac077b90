package contrib

import (
	"math"

	"sextant/stats/game"
)

// What follows is what a simulation reads of an estimate, in points unless it
// says otherwise.

// Game is the game of the event.
func (f *Fit) Game() *game.Game { return f.game }

// Strength is θ of robot i in its next match: what it adds when nothing stops it.
func (f *Fit) Strength(i int) float64 { return f.fused.Now.Mean[i] }

// StrengthCov is the covariance of what is not known of Strength(i) and
// Strength(j), what they may have changed since their last match included.
func (f *Fit) StrengthCov(i, j int) float64 {
	v := f.fused.Now.Cov.At(i, j)
	if i == j {
		v += f.fused.WalkVar()
	}
	return v
}

// WalkVar is by how much what is not known of a robot's strength grows before
// each of its matches, since robots change.
func (f *Fit) WalkVar() float64 { return f.fused.WalkVar() }

// Exposure is w̄, the share of a match that robot i is expected to have.
func (f *Fit) Exposure(i int) float64 { return f.exposure.mean[i] }

// LuckVar is the variance of what a robot of the given strength does in a match
// of which it has the share w.
func (f *Fit) LuckVar(strength, w float64) float64 {
	return f.fused.Calibration * f.fused.MatchVar(max(0, strength), w)
}

// Partners is the correlation of the luck of two robots of an alliance.
func (f *Fit) Partners() float64 { return f.fused.Partners() }

// RestSD is the standard deviation of the rest from match to match.
func (f *Fit) RestSD() float64 { return f.fused.RestSD }

// Profile is how a robot makes its points. Slices are in the order of
// Game.Actions; entries of alliance actions are zero.
type Profile struct {
	Units   []float64   // expected units a match: counts and volumes, a flag's chance
	Options [][]float64 // chance of each option of a choice; nil for other kinds
}

// Profile of robot i. The false answer: nobody watched anything at this event,
// so it is not known how points are made.
func (f *Fit) Profile(i int) (Profile, bool) {
	seen := f.actions()[i]
	if len(seen) == 0 {
		return Profile{}, false
	}
	g := f.game
	p := Profile{Units: make([]float64, len(g.Actions)), Options: make([][]float64, len(g.Actions))}
	for k := range g.Actions {
		a := &g.Actions[k]
		if a.ByAlliance() {
			continue
		}
		if a.Kind != game.Choice {
			p.Units[k] = math.Max(0, seen[a.ID].Mean)
			continue
		}
		p.Options[k] = make([]float64, len(a.Options))
		var sum float64
		for o := range a.Options {
			p.Options[k][o] = math.Max(0, seen[a.ID+":"+a.Options[o].ID].Mean)
			sum += p.Options[k][o]
		}
		for o := range p.Options[k] {
			if sum > 0 {
				p.Options[k][o] /= sum
			}
		}
	}
	return p, true
}
