package record

import (
	"strconv"
	"time"
)

// ResultBody is the JSON body of a record of kind "result": the official
// result of one alliance in one play of a match.
type ResultBody struct {
	Match         MatchID             `json:"match"`
	Play          int                 `json:"play,omitempty"` // 0 is read as 1
	Alliance      Colour              `json:"alliance"`
	Score         float64             `json:"score"` // fouls received included
	FromFouls     *float64            `json:"from_fouls,omitempty"`
	Components    map[string]float64  `json:"components,omitempty"`
	RankingPoints *float64            `json:"ranking_points,omitempty"`
	Robots        map[string][]string `json:"robots,omitempty"` // see Result.Robots
	Absent        []TeamID            `json:"absent,omitempty"`
	Disqualified  []TeamID            `json:"disqualified,omitempty"`
	Cards         []TeamID            `json:"cards,omitempty"`
	// Discarded: the match counts as not played; the result is kept and not used.
	Discarded bool `json:"discarded,omitempty"`
}

// Result is the part of the body that Alliance.Result holds.
func (b *ResultBody) Result() *Result {
	return &Result{Score: b.Score, FromFouls: b.FromFouls, Components: b.Components, RankingPoints: b.RankingPoints, Robots: b.Robots}
}

// Apply puts the result and the teams it names on an alliance of the schedule.
// A discarded result takes them off.
func (b *ResultBody) Apply(a *Alliance) {
	if b.Discarded {
		a.Result, a.Absent, a.Disqualified, a.Cards = nil, nil, nil, nil
		return
	}
	a.Result, a.Absent, a.Disqualified, a.Cards = b.Result(), b.Absent, b.Disqualified, b.Cards
}

// BodyOf is the body of the record that holds an alliance's result; nil when
// there is none.
func BodyOf(m *Match, side Colour) *ResultBody {
	a := m.Side(side)
	if a.Result == nil {
		return nil
	}
	return &ResultBody{
		Match: m.ID, Play: m.Play, Alliance: side,
		Score: a.Result.Score, FromFouls: a.Result.FromFouls, Components: a.Result.Components,
		RankingPoints: a.Result.RankingPoints, Robots: a.Result.Robots,
		Absent: a.Absent, Disqualified: a.Disqualified, Cards: a.Cards,
	}
}

// ListBody is the body of a record of kind "list": a pick list. All members are
// optional in a patch.
type ListBody struct {
	Name    string `json:"name"`
	Purpose string `json:"purpose,omitempty"`
	// Frozen is when a copy was made that nobody works on: its order is a memory.
	Frozen  *time.Time `json:"frozen,omitempty"`
	Removed bool       `json:"removed,omitempty"`
}

// EntryBody is the body of a record of kind "entry": a team's place on a list.
// All members are optional in a patch.
type EntryBody struct {
	List    string `json:"list"` // record id of the list
	Team    TeamID `json:"team"`
	Key     string `json:"key"` // fractional index: entries stand in the order of these texts
	Tier    *int   `json:"tier,omitempty"`
	Never   bool   `json:"never,omitempty"` // not to be picked
	Reason  string `json:"reason,omitempty"`
	Note    string `json:"note,omitempty"`
	Removed bool   `json:"removed,omitempty"`
}

// NoteBody is the body of a record of kind "note": free text about a team or a
// match, or neither. All members are optional in a patch.
type NoteBody struct {
	Team  TeamID   `json:"team,omitempty"`
	Match *MatchID `json:"match,omitempty"`
	Text  string   `json:"text"`
	// List is the record id of the pick list on which it is said, Scout whose words
	// they are if somebody pinned what a scout wrote.
	List    string `json:"list,omitempty"`
	Scout   string `json:"scout,omitempty"`
	Removed bool   `json:"removed,omitempty"`
}

// SelectionBody is the body of a record of kind "selection": one move of the
// alliance selection. Each move is a record of its own with a UUIDv7; package
// selection puts them in order and says which ones count.
type SelectionBody struct {
	// Step orders the moves: one more than the highest that the device had seen.
	// A correction keeps it.
	Step    int    `json:"step"`
	Round   int    `json:"round,omitempty"` // from 1; 0: not said, or a backup's call
	Captain TeamID `json:"captain"`
	Invites TeamID `json:"invites,omitempty"`
	Answer  string `json:"answer"`            // accepts, declines, no_show or nobody_left
	Backup  bool   `json:"backup,omitempty"`  // called after all picks were made
	Removed bool   `json:"removed,omitempty"` // taken back
}

// The answers of a selection's move.
const (
	Accepts    = "accepts"
	Declines   = "declines"
	NoShow     = "no_show"     // the invited team, or without one the captain, is not there
	NobodyLeft = "nobody_left" // nobody may be invited
)

// The kinds of a mark.
const (
	MarkChanged      = "changed"
	MarkRepaired     = "repaired"
	MarkSubstitute   = "substitute"
	MarkToldToDefend = "told_to_defend"
	// MarkNoChange says the opposite of the others: up to its match, that one included,
	// the robot is what it was, although its matches look as if it were not.
	MarkNoChange = "no_change"
)

// MarkKinds are all kinds of a mark.
func MarkKinds() []string {
	return []string{MarkChanged, MarkRepaired, MarkSubstitute, MarkToldToDefend, MarkNoChange}
}

// PlayOf is the play that a stored number stands for: 0 is read as 1.
func PlayOf(n int) int { return max(n, 1) }

// Key is the identity of an observation within its event, for finding the same
// key twice: match, play, team and scout.
func (o *Observation) Key() string {
	return o.Match.String() + "/" + strconv.Itoa(PlayOf(o.Play)) + "/" + string(o.Team) + "/" + o.Scout
}
