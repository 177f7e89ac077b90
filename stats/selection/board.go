package selection

import (
	"fmt"
	"slices"

	"sextant/stats/game"
	"sextant/stats/record"
)

// Rules are the numbers of a selection.
type Rules struct {
	Alliances int // captains
	Picks     int // robots that join a captain
	Backups   int // robots that an alliance may call afterwards
}

// RulesOf takes the rules from a game; without any they are those of eight
// alliances with two picks, common practice.
func RulesOf(s *game.Selection) Rules {
	if s == nil {
		return Rules{Alliances: 8, Picks: 2}
	}
	return Rules{Alliances: s.Alliances, Picks: s.Picks, Backups: s.Backups}
}

// Answer is how an invitation ended.
type Answer = string

// The answers. NobodyLeft and a captain's own NoShow invite nobody.
const (
	Accepts    Answer = record.Accepts
	Declines   Answer = record.Declines
	NoShow     Answer = record.NoShow     // the invited team, or without one the captain itself, is not there
	NobodyLeft Answer = record.NobodyLeft // nobody may be invited: the alliance stays short
)

// Move is one step of a selection.
type Move struct {
	Captain record.TeamID `json:"captain"`
	Invites record.TeamID `json:"invites,omitempty"`
	Answer  Answer        `json:"answer"`
	Backup  bool          `json:"backup,omitempty"` // called after all picks were made
	// Round, from 1, in which the move was made; 0: not said. A move is never
	// made in another one.
	Round int `json:"round,omitempty"`
}

// Refusal says why a move is against the rules. Nothing changed.
type Refusal struct {
	Move Move
	Rule string // in words
}

// Error is the rule in words.
func (r *Refusal) Error() string { return r.Rule }

// Formed is an alliance: a captain, once it is settled, and those who joined.
type Formed struct {
	Alliance int             `json:"alliance"` // from 1
	Captain  record.TeamID   `json:"captain"`
	Picks    []record.TeamID `json:"picks" nullable:"false"`
	Backups  []record.TeamID `json:"backups,omitempty"`
	Settled  bool            `json:"settled"` // the captain has chosen and cannot be invited any more
}

// Turn is who has to choose.
type Turn struct {
	Alliance int           `json:"alliance"` // from 1
	Captain  record.TeamID `json:"captain"`
	Round    int           `json:"round"` // from 1
	Pick     int           `json:"pick"`  // from 1, counted through all rounds
}

// What keeps a team from being invited.
const (
	declined = 1 << iota
	gone
)

// Board is a selection in progress. Teams are known inside by their place in
// the ranking, from 0. It is not safe for concurrent use; Clone is cheap.
type Board struct {
	rules   Rules
	ranking []record.TeamID       // shared by clones
	place   map[record.TeamID]int // shared by clones
	order   []int                 // alliance by turn; shared by clones
	turn    int
	joined  []int8  // by place: the alliance, −1 for none
	bars    []uint8 // by place
	members [][]int // by settled alliance: places, the captain first, picks, then backups
	called  []int   // backups by alliance
}

// New starts a selection. The ranking has every team that may take part, best
// first. Errors: fewer teams than alliances, a team twice, senseless rules.
func New(rules Rules, ranking []record.TeamID) (*Board, error) {
	if rules.Alliances < 1 || rules.Picks < 0 || rules.Backups < 0 || rules.Alliances > 100 {
		return nil, fmt.Errorf("a selection of %d alliances with %d picks and %d backups: give at least one alliance", rules.Alliances, rules.Picks, rules.Backups)
	}
	if len(ranking) < rules.Alliances {
		return nil, fmt.Errorf("the ranking has %d teams for %d alliances; give the whole ranking", len(ranking), rules.Alliances)
	}
	b := &Board{rules: rules, ranking: slices.Clone(ranking), place: make(map[record.TeamID]int, len(ranking))}
	for i, t := range ranking {
		if _, twice := b.place[t]; twice {
			return nil, fmt.Errorf("team %s stands twice in the ranking; keep one", t)
		}
		b.place[t] = i
	}
	b.order = Order(rules)
	b.joined, b.bars = make([]int8, len(ranking)), make([]uint8, len(ranking))
	for i := range b.joined {
		b.joined[i] = -1
	}
	b.members, b.called = make([][]int, rules.Alliances), make([]int, rules.Alliances)
	return b, nil
}

// Order is the serpentine: by turn the alliance, from 0.
func Order(rules Rules) []int {
	out := make([]int, 0, rules.Alliances*rules.Picks)
	for r := range rules.Picks {
		for k := range rules.Alliances {
			if r%2 == 1 {
				k = rules.Alliances - 1 - k
			}
			out = append(out, k)
		}
	}
	return out
}

// Clone is an independent copy.
func (b *Board) Clone() *Board {
	c := *b
	c.joined, c.bars, c.called = slices.Clone(b.joined), slices.Clone(b.bars), slices.Clone(b.called)
	c.members = make([][]int, len(b.members))
	for i, m := range b.members {
		c.members[i] = slices.Clone(m)
	}
	return &c
}

// Rules of this selection.
func (b *Board) Rules() Rules { return b.rules }

// Ranking is the teams, best first.
func (b *Board) Ranking() []record.TeamID { return slices.Clone(b.ranking) }

// free reports whether a team is in no alliance and has not captained a choice.
func (b *Board) free(i int) bool { return b.joined[i] < 0 && b.bars[i]&gone == 0 }

// captain is the place of the captain of an alliance; −1: no team is left for it.
func (b *Board) captain(alliance int) int {
	skip := 0
	for a, m := range b.members[:alliance+1] {
		if len(m) > 0 {
			if a == alliance {
				return m[0]
			}
			continue
		}
		skip++
	}
	for i := range b.ranking {
		if b.free(i) {
			if skip--; skip == 0 {
				return i
			}
		}
	}
	return -1
}

// now is the turn that is due: alliances that found no captain are passed over.
func (b *Board) now() (turn, captain int) {
	for t := b.turn; t < len(b.order); t++ {
		if c := b.captain(b.order[t]); c >= 0 {
			return t, c
		}
	}
	return len(b.order), -1
}

// Turn is who is on the clock; false: all picks are made.
func (b *Board) Turn() (Turn, bool) {
	t, c := b.now()
	if c < 0 {
		return Turn{}, false
	}
	return Turn{Alliance: b.order[t] + 1, Captain: b.ranking[c], Round: t/b.rules.Alliances + 1, Pick: t + 1}, true
}

// Captains are all captains as they stand, alliance 1 first; fewer than there
// are alliances when no teams are left.
func (b *Board) Captains() []record.TeamID {
	var out []record.TeamID
	for a := range b.members {
		if c := b.captain(a); c >= 0 {
			out = append(out, b.ranking[c])
		}
	}
	return out
}

// Alliances are all alliances as they stand, those that have a captain.
func (b *Board) Alliances() []Formed {
	var out []Formed
	for a, m := range b.members {
		c := b.captain(a)
		if c < 0 {
			continue
		}
		al := Formed{Alliance: a + 1, Captain: b.ranking[c], Picks: []record.TeamID{}, Settled: len(m) > 0}
		for k, i := range m {
			switch {
			case k == 0:
			case k >= len(m)-b.called[a]:
				al.Backups = append(al.Backups, b.ranking[i])
			default:
				al.Picks = append(al.Picks, b.ranking[i])
			}
		}
		out = append(out, al)
	}
	return out
}

// AllianceOf is the number of a team's alliance, from 1, also of a captain that
// has not chosen yet; 0: none.
func (b *Board) AllianceOf(t record.TeamID) int {
	i, ok := b.place[t]
	if !ok {
		return 0
	}
	if b.joined[i] >= 0 {
		return int(b.joined[i]) + 1
	}
	for a := range b.members {
		if b.captain(a) == i {
			return a + 1
		}
	}
	return 0
}

// Declined are the teams that said no, in order of rank.
func (b *Board) Declined() []record.TeamID { return b.barred(declined) }

// Gone are the teams that did not show, in order of rank.
func (b *Board) Gone() []record.TeamID { return b.barred(gone) }

func (b *Board) barred(bit uint8) []record.TeamID {
	out := []record.TeamID{}
	for i, bars := range b.bars {
		if bars&bit != 0 {
			out = append(out, b.ranking[i])
		}
	}
	return out
}

// LeftOver are the teams in no alliance, in order of rank. Captains that have
// not chosen are among them.
func (b *Board) LeftOver() []record.TeamID {
	out := []record.TeamID{}
	for i := range b.ranking {
		if b.joined[i] < 0 {
			out = append(out, b.ranking[i])
		}
	}
	return out
}

// Pool are the teams that may be invited now, in order of rank. Once all picks
// are made they are the backups, of whom only the first may be called.
func (b *Board) Pool() []record.TeamID {
	_, c := b.now()
	out := []record.TeamID{}
	for i := range b.ranking {
		if b.free(i) && b.bars[i]&declined == 0 && i != c {
			out = append(out, b.ranking[i])
		}
	}
	return out
}

// WhyNot says why a team may not be invited now, in words; "": it may be.
func (b *Board) WhyNot(t record.TeamID) string {
	_, c := b.now()
	i, ok := b.place[t]
	switch {
	case !ok:
		return "not at the event"
	case i == c:
		return "is the inviting captain"
	case b.joined[i] >= 0 && b.members[b.joined[i]][0] == i:
		return "captain of an alliance that has already chosen"
	case b.joined[i] >= 0:
		return fmt.Sprintf("already in alliance %d", b.joined[i]+1)
	case b.bars[i]&gone != 0:
		return "did not show before"
	case b.bars[i]&declined != 0:
		return "declined before: may not be invited again"
	}
	return ""
}
