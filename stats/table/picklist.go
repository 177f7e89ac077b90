package table

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"

	"sextant/stats/record"
)

// Pick is one row of a pick list.
type Pick struct {
	Rank   int           `json:"rank"` // from 1
	Team   record.TeamID `json:"team"`
	Tier   *int          `json:"tier,omitempty"` // nil: none
	Never  bool          `json:"never,omitempty"`
	Reason string        `json:"reason,omitempty"`
	Note   string        `json:"note,omitempty"`
}

// ReadPickList reads picklist.csv: rank,team[,tier,never,reason,note], in order
// of rank. Name is the file's name for errors, which are Errors.
func ReadPickList(name string, r io.Reader) ([]Pick, error) {
	return readPickList(name, r, crossCheck{off: true})
}

// LoadPickList is ReadPickList that refuses teams which do not stand in a team
// list; where names that list for errors.
func LoadPickList(name string, r io.Reader, teams []record.Team, where string) ([]Pick, error) {
	return readPickList(name, r, newCrossCheck(teams, where))
}

func readPickList(name string, r io.Reader, check crossCheck) ([]Pick, error) {
	known := func(c string) bool {
		return slices.Contains([]string{"rank", "team", "tier", "never", "reason", "note"}, c)
	}
	s, errs := openSheet(name, r, known, "rank", "team")
	if s == nil {
		return nil, errs
	}
	var out []Pick
	ranked := newPlaces()
	s.each(func(r row) {
		p := Pick{
			Rank: r.rank("rank"), Team: r.team("team"),
			Reason: r.free("reason", record.MaxText), Note: r.free("note", record.MaxText),
		}
		if n := r.count("tier"); n != nil {
			tier := int(*n)
			p.Tier = &tier
		}
		if never := r.flag("never"); never != nil {
			p.Never = *never
		}
		if ranked.add(r, p.Rank, p.Team) {
			out = append(out, p)
			check.one(p.Team, &s.errs, Error{File: name, Line: r.line, Column: "team"})
		}
	})
	if err := s.errs.err(); err != nil {
		return nil, err
	}
	slices.SortFunc(out, func(a, b Pick) int { return cmp.Compare(a.Rank, b.Rank) })
	return out, nil
}

// WritePickList writes picklist.csv. Ranks are counted from 1 in the order
// given; Pick.Rank is not read.
func WritePickList(w io.Writer, picks []Pick) error {
	out := newWriter(w)
	out.row([]string{"rank", "team", "tier", "never", "reason", "note"})
	for i, p := range picks {
		tier := ""
		if p.Tier != nil {
			tier = strconv.Itoa(*p.Tier)
		}
		out.row([]string{strconv.Itoa(i + 1), string(p.Team), tier, formatFlag(p.Never), guard(p.Reason), guard(p.Note)})
	}
	return out.close()
}

// ReadRanking reads ranking.csv: rank,team. Teams come in order of rank, which
// runs from 1 without gaps. Name is the file's name for errors, which are Errors.
func ReadRanking(name string, r io.Reader) ([]record.TeamID, error) {
	known := func(c string) bool { return c == "rank" || c == "team" }
	s, errs := openSheet(name, r, known, "rank", "team")
	if s == nil {
		return nil, errs
	}
	ranked := newPlaces()
	s.each(func(r row) { ranked.add(r, r.rank("rank"), r.team("team")) })
	out := make([]record.TeamID, 0, len(ranked.team))
	for rank := 1; rank <= len(ranked.team); rank++ {
		t, ok := ranked.team[rank]
		if !ok {
			s.errs.add(Error{File: name, Column: "rank", Message: fmt.Sprintf("no team has rank %d; number the teams from 1 without gaps", rank)})
			break
		}
		out = append(out, t)
	}
	if err := s.errs.err(); err != nil {
		return nil, err
	}
	return out, nil
}

// WriteRanking writes ranking.csv for teams in order of rank.
func WriteRanking(w io.Writer, teams []record.TeamID) error {
	out := newWriter(w)
	out.row([]string{"rank", "team"})
	for i, t := range teams {
		out.row([]string{strconv.Itoa(i + 1), string(t)})
	}
	return out.close()
}

// places refuses a rank or a team that stands twice.
type places struct {
	team  map[int]record.TeamID
	ranks map[int]int // rank → line
	teams map[record.TeamID]int
}

func newPlaces() *places {
	return &places{team: map[int]record.TeamID{}, ranks: map[int]int{}, teams: map[record.TeamID]int{}}
}

func (p *places) add(r row, rank int, team record.TeamID) bool {
	if rank == 0 || team == "" {
		return false
	}
	if line, twice := p.ranks[rank]; twice {
		r.fail("rank", "rank %d stands in line %d already; give each team its own", rank, line)
		return false
	}
	if line, twice := p.teams[team]; twice {
		r.fail("team", "team %s stands in line %d already; keep one row", team, line)
		return false
	}
	p.team[rank], p.ranks[rank], p.teams[team] = team, r.line, r.line
	return true
}
