package check

import (
	"slices"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Survey is how far an event's records can be trusted, seen from all sides.
type Survey struct {
	Report
	Matches []Coverage    `json:"matches" nullable:"false"` // matches that have begun, in playing order
	Safe    Safe          `json:"safe"`
	Scouts  []ScoutReport `json:"scouts" nullable:"false"` // by nickname
	// Changes are robots that seem to be another since one of their matches, and
	// of which nobody has said so, or said that they are not; by number.
	Changes []Jump `json:"changes" nullable:"false"`
	// Duties are how long scouts have been on today; by nickname, who made no record
	// on the day of the last one left out.
	Duties []Duty `json:"duties" nullable:"false"`
}

// Look makes the queue of an event as Find does, and all that goes with it. What
// may still be on its way is not called missing.
func Look(ev *record.Event, fit *contrib.Fit, opt Options) Survey {
	t := newTable(ev, opt)
	e := newEffects(t, fit)
	s := Survey{Report: t.queue(e)}
	s.Suspects = slices.DeleteFunc(s.Suspects, func(x Suspect) bool {
		return x.Kind == Missing && len(x.Scouts) == 0 && t.awaited(t.playOf(x.Match, x.Play))
	})
	s.Matches = t.coverage(s.Suspects)
	s.Safe = t.safe(fit, s.Suspects)
	s.Scouts = t.scouts(s.Suspects)
	s.Changes = t.suggested(fit)
	s.Duties = []Duty{}
	if fit != nil {
		s.Duties = t.duties(fit.Apart())
	}
	return s
}

// playOf is the index of a play, −1 if the schedule has none.
func (t *table) playOf(match record.MatchID, number int) int {
	return slices.IndexFunc(t.plays, func(p play) bool {
		return p.match.ID == match && max(1, p.match.Play) == max(1, number)
	})
}
