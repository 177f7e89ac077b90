package check

import (
	"slices"

	"sextant/stats/record"
)

// State of a seat: what is there of a robot in a match.
type State string

// The states of a seat.
const (
	Arrived  State = "arrived"    // somebody's record of all of it is there, or the venue calls the robot absent
	Doubtful State = "doubtful"   // there is one, and more likely than not something is wrong, or it is of a part
	OnItsWay State = "on_its_way" // nothing is there, and the next match has not begun
	NotThere State = "missing"    // nothing is there
)

// Coverage is which robots of a match have a record.
type Coverage struct {
	Match record.MatchID `json:"match"`
	Play  int            `json:"play,omitempty"`         // 0: the first
	Seats []CoveredSeat  `json:"seats" nullable:"false"` // red first, in the order of stations
}

// CoveredSeat is a robot in a match.
type CoveredSeat struct {
	Team     record.TeamID `json:"team"`
	Alliance record.Colour `json:"alliance"`
	State    State         `json:"state"`
	Scouts   []string      `json:"scouts" nullable:"false"` // whose records are there
}

// from this probability on a record is called doubtful rather than arrived.
const inDoubt = 0.5

// begun: a play has a result, or somebody's record.
func (t *table) begun(i int) bool { return t.plays[i].match.Played() || t.watched(i) }

// awaited: a play is the last that has begun and others follow in the schedule,
// so what is missing of it may be on its way.
func (t *table) awaited(i int) bool {
	if i < 0 || i == len(t.plays)-1 || !t.begun(i) {
		return false
	}
	for j := i + 1; j < len(t.plays); j++ {
		if t.begun(j) {
			return false
		}
	}
	return true
}

// coverage is the map of matches and seats. Nothing is said of an event that
// nobody scouts.
func (t *table) coverage(suspects []Suspect) []Coverage {
	out := []Coverage{}
	if len(t.rows) == 0 {
		return out
	}
	type at struct {
		play int
		team record.TeamID
	}
	doubted := map[at]bool{}
	for i := range suspects {
		s := &suspects[i]
		if s.Probability < inDoubt || s.Kind == UnknownTeam || s.Kind == Missing && len(s.Scouts) == 0 {
			continue
		}
		play := t.playOf(s.Match, s.Play)
		doubted[at{play, s.Teams[0]}] = true
		if s.Kind == Swap {
			doubted[at{play, s.Teams[1]}] = true
		}
	}
	for i := range t.plays {
		if !t.begun(i) {
			continue
		}
		p := &t.plays[i]
		c := Coverage{Match: p.match.ID, Play: later(p.match.Play), Seats: []CoveredSeat{}}
		for _, colour := range []record.Colour{record.Red, record.Blue} {
			for _, team := range p.match.Side(colour).Teams {
				n := len(c.Seats)
				seat := CoveredSeat{Team: team, Alliance: colour, State: Arrived, Scouts: []string{}}
				for _, id := range p.rows[n] {
					seat.Scouts = append(seat.Scouts, t.rows[id].scout)
				}
				switch {
				case doubted[at{i, team}]:
					seat.State = Doubtful
				case len(seat.Scouts) > 0 || p.absent[n]:
				case t.awaited(i):
					seat.State = OnItsWay
				default:
					seat.State = NotThere
				}
				c.Seats = append(c.Seats, seat)
			}
		}
		out = append(out, c)
	}
	return slices.Clip(out)
}
