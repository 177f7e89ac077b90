package contrib

import "sextant/stats/record"

// Apart is how far one scout's record lies from all else that is known of its
// robot in that match.
type Apart struct {
	Match record.MatchID
	Play  int
	Team  record.TeamID
	Scout string
	// T is the record's points less what the robot, its partners' records, other
	// scouts of it and the official total make likely, over the standard deviation
	// of that difference.
	T float64
}

// Apart are all scouts' records that the estimate used, in playing order.
func (f *Fit) Apart() []Apart {
	out := make([]Apart, 0, len(f.fused.Views))
	for _, v := range f.fused.Views {
		play := &f.layout.problem.Plays[v.Play]
		view := play.Views[v.View]
		if view.Official {
			continue
		}
		at := f.layout.played[v.Play]
		out = append(out, Apart{at.match, at.play, f.teams[play.Present[view.Slot].Robot], f.layout.scouts[view.Scout], v.T})
	}
	return out
}
