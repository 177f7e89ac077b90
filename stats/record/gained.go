package record

import "sextant/stats/game"

// Gained tells from the official result whether an alliance met a condition of
// g; known is false where that cannot be seen. The match must have been played.
func (m *Match) Gained(g *game.Game, c *game.Condition, side Colour) (got, known bool) {
	own, other := m.Red.Result, m.Blue.Result
	if side == Blue {
		own, other = other, own
	}
	switch {
	case c.Outcome == "win":
		return own.Score > other.Score, true
	case c.Outcome == "tie":
		return own.Score == other.Score, true
	case c.Component != "":
		v, ok := own.Components[c.Component]
		if c.AtLeast != nil {
			return v >= g.Value(*c.AtLeast), ok
		}
		o, there := other.Components[c.Component]
		return v > o, ok && there
	case len(c.Any) > 0:
		known = true
		for i := range c.Any {
			one, told := m.Gained(g, &c.Any[i], side)
			got, known = got || one && told, known && told
		}
		return got, known || got
	case len(c.All) > 0:
		got, known = true, true
		for i := range c.All {
			one, told := m.Gained(g, &c.All[i], side)
			if told && !one {
				return false, true
			}
			known = known && told
		}
		return got, known
	}
	return false, false
}
