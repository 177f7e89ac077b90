package simulate

import (
	"math"

	"sextant/stats/contrib"
	"sextant/stats/game"
)

// part is a component as it is drawn while nobody watched what robots do.
type part struct {
	*contrib.Part         // nil: not published
	grain         float64 // values are multiples of it; 0: any
}

func parts(fit *contrib.Fit) []part {
	g := fit.Game()
	var out []part
	for i, p := range fit.Parts() {
		out = append(out, part{p, grain(g, &g.Components[i])})
	}
	return out
}

// grain is the largest step that all values of a component are multiples of: 1
// for units, and for points what divides all of them.
func grain(g *game.Game, c *game.Component) float64 {
	if len(c.Count) > 0 {
		return 1
	}
	var steps []float64
	for _, id := range c.Sum {
		if a, ok := g.Action(id); ok {
			steps = append(steps, a.Points)
			for _, o := range a.Options {
				steps = append(steps, o.Points)
			}
		}
		for _, b := range g.Bonuses {
			if b.ID == id {
				steps = append(steps, b.Points)
			}
		}
	}
	least := 0.0
	for _, x := range steps {
		for a, b := least, math.Abs(x); ; a, b = b, math.Mod(a, b) {
			if b < 1e-6 {
				least = a
				break
			}
		}
	}
	return least
}

// tells reports whether a draw says whether a condition is met. Of what an
// alliance does as a whole nothing is known.
func (e *Engine) tells(c *game.Condition) bool {
	if c.Both != "" {
		return false
	}
	for i := range e.g.Components {
		if !e.seen && e.g.Components[i].ID == c.Component && e.parts[i].Part == nil {
			return false
		}
	}
	for _, list := range [][]game.Condition{c.Any, c.All} {
		for i := range list {
			if !e.tells(&list[i]) {
				return false
			}
		}
	}
	return true
}

// components draws the components of an alliance that goes above or below what
// is expected of its own score by some points. What is not known of a
// component's robots is drawn anew in every match.
func (r *Run) components(l *Lineup, above, variance float64, z, out []float64) {
	for i := range r.e.parts {
		p := &r.e.parts[i]
		if p.Part == nil {
			out[i] = 0
			continue
		}
		mean := p.WithScore * above
		for k, robot := range l.Robots {
			mean += p.Mean[robot] * l.expected(r.e, k)
		}
		all := p.Variance(l.Robots...)
		own := math.Max(all-p.WithScore*p.WithScore*variance, 0.1*all)
		v := math.Max(0, p.Shaped(mean+math.Sqrt(own)*z[i]))
		if p.grain > 0 {
			v = p.grain * math.Round(v/p.grain)
		}
		out[i] = v
	}
}
