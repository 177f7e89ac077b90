package generate

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Plausible habits of where robots score from, and of scouts who say where.
const (
	placed    = 0.6 // share of taps whose place the scout shows on the drawing
	placeSD   = 0.5 // m: how far a robot and its scout's finger stray from its usual spot
	placeNear = 0.5 // m: from the edge of what it scores at
	placeFar  = 2.5 // m
)

// show adds to a record's taps where they were, as a scout shows it on the game
// file's drawing. A robot has its usual spot for every action: near the shape
// of its own half that shares a word with the action's name, anywhere in that
// half where no shape does. It is drawn apart, so that a game file without a
// drawing gives the same event.
func (w *World) show(o *record.Observation, red bool, robot record.TeamID) {
	field := w.course.g.Field
	if field == nil {
		return
	}
	finger := w.apart("finger", o.Key())
	for i := range o.Taps {
		t := &o.Taps[i]
		a, ok := w.course.g.Action(strings.TrimSuffix(t.Action, "_missed"))
		if !ok || t.Step < 0 || finger.Float64() >= placed {
			continue
		}
		x, y := usual(w.apart("spot", string(robot), a.ID), field, a)
		x, y = x+placeSD*finger.NormFloat64(), y+placeSD*finger.NormFloat64()
		if !red {
			x = field.LengthM - x
			if field.Turn != "mirror" {
				y = field.WidthM - y
			}
		}
		t.X, t.Y, t.HasXY = within(x, field.LengthM), within(y, field.WidthM), true
	}
}

// apart is a random source of its own for what its names say.
func (w *World) apart(names ...string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(strings.Join(names, "\x00")))
	return source([2]uint64{w.seeds[0].play[0], h.Sum64()})
}

// usual draws a red robot's spot for an action.
func usual(rng *rand.Rand, field *game.Field, a *game.Action) (x, y float64) {
	words := strings.Fields(strings.ToLower(a.Name))
	found := false
	var at game.Shape
	var w, h float64
	for _, s := range field.Shapes {
		named := slices.ContainsFunc(strings.Fields(strings.ToLower(s.Name)), func(word string) bool { return slices.Contains(words, word) })
		cx, cy, sw, sh := s.X, s.Y, 2*s.R, 2*s.R
		if s.Kind == "rect" {
			cx, cy, sw, sh = s.X+s.W/2, s.Y+s.H/2, s.W, s.H
		}
		if named && s.Kind != "line" && (!found || cx < at.X) {
			found, at, w, h = true, game.Shape{X: cx, Y: cy}, sw, sh
		}
	}
	if !found {
		return field.LengthM / 2 * rng.Float64(), field.WidthM * rng.Float64()
	}
	// From the side where there is room: towards the middle of the field.
	toward := math.Atan2(field.WidthM/2-at.Y, field.LengthM/2-at.X) + 1.2*(2*rng.Float64()-1)
	far := max(w, h)/2 + placeNear + (placeFar-placeNear)*rng.Float64()
	return at.X + far*math.Cos(toward), at.Y + far*math.Sin(toward)
}

// within keeps a coordinate on the field, to the centimetre.
func within(v, most float64) float64 {
	return math.Round(100*min(max(v, 0), most)) / 100
}
