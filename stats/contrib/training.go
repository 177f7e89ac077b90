package contrib

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"sextant/stats/contrib/fused"
	"sextant/stats/game"
)

// trained are the rows that trainings give for the scouts who watched something:
// the points that a scout counted of the invented robot beside those that there
// were, of what was counted at all. A training whose truth is worth nothing
// says nothing, and so does one of a scout who is not in the index.
func (e *evidence) trained(scouts map[string]int) []fused.Trained {
	var out []fused.Trained
	for i := range e.trainings {
		t := &e.trainings[i]
		k, ok := scouts[t.Scout]
		if !ok || t.Discarded {
			continue
		}
		row := fused.Trained{Scout: k}
		for _, id := range slices.Sorted(maps.Keys(t.Truth)) { // in order, so that the same training gives the same digits
			truth := t.Truth[id]
			seen, counted := t.Seen[id]
			if truth.Made == nil || !counted || seen.Made == nil {
				continue
			}
			points := e.pointsOf(id)
			row.True += points * *truth.Made
			row.Points += points * *seen.Made
		}
		if row.True > 0 {
			out = append(out, row)
		}
	}
	slices.SortFunc(out, func(a, b fused.Trained) int {
		return cmp.Or(cmp.Compare(a.Scout, b.Scout), cmp.Compare(a.True, b.True), cmp.Compare(a.Points, b.Points))
	})
	return out
}

// pointsOf are the points of one unit of an action, or of "action:option".
func (e *evidence) pointsOf(id string) float64 {
	if action, option, ok := strings.Cut(id, ":"); ok {
		return e.game.RobotPoints(game.Robot{Choices: map[string]string{action: option}})
	}
	return e.game.RobotPoints(game.Robot{Counts: map[string]float64{id: 1}})
}
