package study

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// JumpOptions of a study of robots that change during the event.
type JumpOptions struct {
	Seeds, First int
	Events       generate.Options // with Altered
	TruthRuns    int              // at least 2
	Every        int              // matches between two looks at the event
}

// JumpRow is how changes of one kind and size fare.
type JumpRow struct {
	Kind string `json:"kind"`
	// From and To bound the points that the robot gained or lost by the change, as
	// a share of what it made at its better time.
	From    float64    `json:"from"`
	To      float64    `json:"to"`
	Changes int        `json:"changes"`
	Found   Difference `json:"found"` // share of them, by the end of the event
	Late    float64    `json:"late"`  // matches of the robot from the change to the suggestion, median of the found
}

// JumpReport is what came out.
type JumpReport struct {
	Events int       `json:"events"`
	First  int       `json:"first"` // seed
	Rows   []JumpRow `json:"kinds" nullable:"false"`
	// Suggested are robots an event, at any look; Wrong those of them that had not
	// been altered within two of their matches of the one named. Trouble that
	// passes, learning and changes overnight, which all robots of the generator may
	// have, count as nothing.
	Suggested Difference `json:"suggested"`
	Wrong     Difference `json:"wrong"`
	Bins      []Bin      `json:"reliability" nullable:"false"` // of all robots at all looks
}

// looked is one robot at one look.
type looked struct {
	event   int
	jump    check.Jump
	altered int // index of the alteration that it is about, −1: none
}

// jumpNear is how many of its own matches a suggestion may be off.
const jumpNear = 2

// Jumps measures how many of the robots that change are found, and how many
// others are named. Nobody answers suggestions, and no change was noticed by
// anybody.
func Jumps(g *game.Game, opt JumpOptions) (*JumpReport, error) {
	all, altered, err := jumpLooks(g, &opt, check.Options{})
	if err != nil {
		return nil, err
	}
	out := &JumpReport{Events: opt.Seeds, First: opt.First}
	type robot struct {
		event int
		team  record.TeamID
	}
	asked := map[robot]bool{}
	first := map[int]*looked{} // by alteration
	suggested, wrong := make([]float64, opt.Seeds), make([]float64, opt.Seeds)
	for i := range all {
		l := &all[i]
		if l.jump.Probability < check.JumpSuggest {
			continue
		}
		if l.altered >= 0 && first[l.altered] == nil {
			first[l.altered] = l
		}
		if r := (robot{l.event, l.jump.Team}); !asked[r] {
			asked[r] = true
			suggested[l.event]++
			wrong[l.event] += count(l.altered < 0)
		}
	}
	out.Suggested, out.Wrong = meanOf(suggested), meanOf(wrong)
	for _, kind := range generate.Alterations() {
		for _, size := range [][2]float64{{0, 0.25}, {0.25, 0.5}, {0.5, 1.01}} {
			row := JumpRow{Kind: kind, From: size[0], To: math.Min(1, size[1])}
			var found, late []float64
			for i := range altered {
				a := &altered[i]
				if s := share(a.Alteration); a.Kind != kind || s < size[0] || s >= size[1] {
					continue
				}
				l := first[i]
				found = append(found, count(l != nil))
				if l != nil {
					late = append(late, float64(a.own(l.jump.Through)-a.own(a.Match)+1))
				}
			}
			row.Changes, row.Found = len(found), meanOf(found)
			if len(late) > 0 {
				slices.Sort(late)
				row.Late = late[len(late)/2]
			}
			out.Rows = append(out.Rows, row)
		}
	}
	for _, edge := range [][2]float64{{0.02, 0.1}, {0.1, 0.3}, {0.3, 0.5}, {0.5, 0.8}, {0.8, 0.95}, {0.95, 1.01}} {
		var b Bin
		for i := range all {
			if l := &all[i]; l.jump.Probability >= edge[0] && l.jump.Probability < edge[1] {
				b.Suspects++
				b.Said += l.jump.Probability
				b.True += count(l.altered >= 0)
			}
		}
		n := max(1, float64(b.Suspects))
		b.Said, b.True = b.Said/n, b.True/n
		b.Named = b.True
		out.Bins = append(out.Bins, b)
	}
	return out, nil
}

// FitJumps learns from invented events how often changes are right, given their
// uncorrected probability.
func FitJumps(g *game.Game, opt JumpOptions) (CheckFit, error) {
	out := CheckFit{Kind: "change"}
	all, _, err := jumpLooks(g, &opt, check.Options{Raw: true})
	if err != nil {
		return out, err
	}
	var odds []float64
	var truths []bool
	for i := range all {
		// Below, all is as good as nothing, and would outweigh what may be asked about.
		if l := &all[i]; l.jump.Probability >= 0.1 {
			odds, truths = append(odds, check.LogOdds(l.jump.Probability)), append(truths, l.altered >= 0)
			out.Right += int(count(l.altered >= 0))
		}
	}
	out.Suspects = len(odds)
	out.Logistic, err = logistic(odds, truths)
	return out, err
}

// alteration is one with the matches of its robot.
type alteration struct {
	generate.Alteration
	matches []record.MatchID
}

// own is the index of the first of the robot's matches that is not before m.
func (a *alteration) own(m record.MatchID) int { return ownMatch(a.matches, m) }

func ownMatch(matches []record.MatchID, m record.MatchID) int {
	n := slices.IndexFunc(matches, func(x record.MatchID) bool { return x.Compare(m) >= 0 })
	if n < 0 {
		return len(matches)
	}
	return n
}

// share is the size of an alteration.
func share(a generate.Alteration) float64 {
	return math.Abs(a.After-a.Before) / math.Max(1e-9, math.Max(a.After, a.Before))
}

// meanOf is a mean with its standard error.
func meanOf(x []float64) Difference {
	return paired(x, make([]float64, len(x)), func(v *float64) float64 { return *v })
}

// jumpLooks looks at every event again and again while it goes on.
func jumpLooks(g *game.Game, opt *JumpOptions, how check.Options) ([]looked, []alteration, error) {
	if opt.Seeds < 1 || opt.Every < 1 || opt.TruthRuns < 2 {
		return nil, nil, errors.New("a study of changes needs one seed or more, a match or more between looks and two truth runs or more")
	}
	var all []looked
	var altered []alteration
	for k := range opt.Seeds {
		seed := uint64(opt.First + k)
		w, err := generate.New(g, rand.New(rand.NewPCG(seed, 0)), opt.Events)
		if err != nil {
			return nil, nil, err
		}
		matches := map[record.TeamID][]record.MatchID{}
		for _, m := range w.Schedule() {
			for _, t := range slices.Concat(m.Red.Teams, m.Blue.Teams) {
				matches[t] = append(matches[t], m.ID)
			}
		}
		from := len(altered)
		for _, a := range w.Truth(opt.TruthRuns).Altered {
			altered = append(altered, alteration{a, matches[a.Team]})
		}
		var hold *contrib.Components
		for n := opt.Every; ; n += opt.Every {
			n = min(n, w.Matches())
			ev := w.Event(n)
			ev.Marks = nil
			if n >= w.Matches()/4 && hold == nil {
				fit, err := contrib.Estimate(ev, contrib.Options{})
				if err != nil {
					return nil, nil, fmt.Errorf("seed %d: %w", seed, err)
				}
				c := fit.Components()
				hold = &c
			}
			if hold != nil {
				fit, err := contrib.Estimate(ev, contrib.Options{Components: hold})
				if err != nil {
					return nil, nil, fmt.Errorf("seed %d: %w", seed, err)
				}
				for _, j := range check.Jumps(ev, fit, how) {
					l := looked{event: k, jump: j, altered: -1}
					own := matches[j.Team]
					for i := from; i < len(altered); i++ {
						d := ownMatch(own, altered[i].Match) - ownMatch(own, j.Match)
						if altered[i].Team == j.Team && d >= -jumpNear && d <= jumpNear {
							l.altered = i
						}
					}
					all = append(all, l)
				}
			}
			if n == w.Matches() {
				break
			}
		}
	}
	return all, altered, nil
}
