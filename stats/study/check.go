package study

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"sextant/stats/check"
	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// CheckOptions of a study of package check.
type CheckOptions struct {
	Seeds, First int
	Events       generate.Options
	TruthRuns    int     // at least 2
	FalseAlarms  float64 // that are put up with, a match
}

// CheckRow is how one kind of mistake fares.
type CheckRow struct {
	Kind    check.Kind `json:"kind"`
	Faults  int        `json:"faults"`
	Found   float64    `json:"found"`   // share of them whose record is listed, as whatever
	Named   float64    `json:"named"`   // and as this kind
	Ceiling float64    `json:"ceiling"` // share found by who knows the robots' true means
	// Precision is the share of what was listed as this kind that is about a
	// record with something wrong; nothing listed gives 0.
	Precision float64 `json:"precision"`
	Listed    int     `json:"listed"`
}

// Bin is what happened with suspects of about one probability.
type Bin struct {
	Said     float64 `json:"said"`  // mean probability
	Named    float64 `json:"named"` // share in which that very kind of mistake was there
	True     float64 `json:"true"`  // share in which something was wrong with the record
	Suspects int     `json:"suspects"`
}

// CheckReport is what came out.
type CheckReport struct {
	Matches   int        `json:"matches"`
	Threshold float64    `json:"threshold"` // the probability that gives the false alarms asked for
	Ceiling   float64    `json:"ceiling_threshold"`
	Rows      []CheckRow `json:"kinds" nullable:"false"`
	Bins      []Bin      `json:"reliability" nullable:"false"`
}

// mistake is something that is known to be wrong.
type mistake struct {
	kind  check.Kind
	match record.MatchID
	teams []record.TeamID // of the records concerned
}

// alarm is a suspect that may be false.
type alarm struct {
	event int
	check.Suspect
}

// inferred are the kinds that are a matter of likelihood; the others are facts.
var inferred = []check.Kind{check.Swap, check.WrongRobot, check.Period, check.Stuck, check.Outlier, check.Disagree, check.Absent}

// Check measures how much of what scouts did wrong is found.
func Check(g *game.Game, opt CheckOptions) (*CheckReport, error) {
	if opt.Seeds < 1 {
		return nil, errors.New("a study needs at least one seed")
	}
	out := &CheckReport{}
	var truth [][]mistake
	var ours, ceiling []alarm
	for k := range opt.Seeds {
		e, err := spoiled(g, &opt, k)
		if err != nil {
			return nil, err
		}
		out.Matches += len(e.event.Matches)
		truth = append(truth, e.wrong)
		for _, s := range check.Find(e.event, e.fit, check.Options{Least: leastListed}).Suspects {
			ours = append(ours, alarm{k, s})
		}
		for _, s := range check.Find(e.event, e.fit, check.Options{Least: leastListed, Known: trueMeans(e.truth)}).Suspects {
			ceiling = append(ceiling, alarm{k, s})
		}
	}
	allowed := int(opt.FalseAlarms * float64(out.Matches))
	out.Threshold, out.Ceiling = threshold(ours, truth, allowed), threshold(ceiling, truth, allowed)
	for _, kind := range []check.Kind{check.Swap, check.WrongRobot, check.Period, check.Stuck, check.Outlier, check.Absent, check.UnknownTeam, check.Missing} {
		row := CheckRow{Kind: kind}
		for e, all := range truth {
			for i := range all {
				m := &all[i]
				if m.kind != kind {
					continue
				}
				row.Faults++
				found, named := lookUp(ours, e, m, out.Threshold)
				best, _ := lookUp(ceiling, e, m, out.Ceiling)
				row.Found += count(found)
				row.Named += count(named)
				row.Ceiling += count(best)
			}
		}
		for i := range ours {
			if a := &ours[i]; a.Kind == kind && a.Probability >= out.Threshold {
				row.Listed++
				row.Precision += count(right(a, truth, ""))
			}
		}
		n := max(1, float64(row.Faults))
		row.Found, row.Named, row.Ceiling = row.Found/n, row.Named/n, row.Ceiling/n
		row.Precision /= max(1, float64(row.Listed))
		out.Rows = append(out.Rows, row)
	}
	for _, edge := range [][2]float64{{0.02, 0.1}, {0.1, 0.3}, {0.3, 0.5}, {0.5, 0.7}, {0.7, 0.9}, {0.9, 0.98}, {0.98, 1.01}} {
		var b Bin
		for i := range ours {
			a := &ours[i]
			if slices.Contains(inferred, a.Kind) && check.Calibrated(&a.Suspect) && a.Probability >= edge[0] && a.Probability < edge[1] {
				b.Suspects++
				b.Said += a.Probability
				b.True += count(right(a, truth, ""))
				b.Named += count(named(a, truth))
			}
		}
		n := max(1, float64(b.Suspects))
		b.Said, b.Named, b.True = b.Said/n, b.Named/n, b.True/n
		out.Bins = append(out.Bins, b)
	}
	return out, nil
}

// leastListed is the probability down to which suspects are looked at.
const leastListed = 0.005

// event is an invented one of which all mistakes are known.
type event struct {
	event *record.Event
	truth *generate.Truth
	wrong []mistake
	fit   *contrib.Fit
}

// spoiled makes the k-th event of a study.
func spoiled(g *game.Game, opt *CheckOptions, k int) (*event, error) {
	seed := uint64(opt.First + k)
	w, err := generate.New(g, rand.New(rand.NewPCG(seed, 0)), opt.Events)
	if err != nil {
		return nil, err
	}
	e := &event{event: w.Event(w.Matches()), truth: w.Truth(opt.TruthRuns)}
	e.wrong = spoil(rand.New(rand.NewPCG(seed, 5)), e.event, e.truth.Mistakes)
	if e.fit, err = contrib.Estimate(e.event, contrib.Options{}); err != nil {
		return nil, fmt.Errorf("seed %d: %w", seed, err)
	}
	return e, nil
}

func count(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// about: a suspect is about a record with this mistake.
func about(s *check.Suspect, m *mistake) bool {
	if s.Match != m.match {
		return false
	}
	teams := s.Teams[:1]
	if s.Kind == check.Swap {
		teams = s.Teams
	}
	return slices.ContainsFunc(teams, func(t record.TeamID) bool { return slices.Contains(m.teams, t) })
}

// right: something is wrong with the record (of the given kind, unless "").
func right(a *alarm, truth [][]mistake, kind check.Kind) bool {
	return slices.ContainsFunc(truth[a.event], func(m mistake) bool {
		return about(&a.Suspect, &m) && (kind == "" || kind == m.kind)
	})
}

// named: the suspect is right in what it says is wrong. That two records
// disagree is right if something is wrong with either.
func named(a *alarm, truth [][]mistake) bool {
	if a.Kind == check.Disagree {
		return right(a, truth, "")
	}
	return right(a, truth, a.Kind)
}

func lookUp(all []alarm, event int, m *mistake, least float64) (found, named bool) {
	for i := range all {
		a := &all[i]
		if a.event == event && a.Probability >= least && about(&a.Suspect, m) && (slices.Contains(inferred, a.Kind) || a.Kind == m.kind) {
			found = true
			named = named || a.Kind == m.kind
		}
	}
	return found, named
}

// threshold is the least probability with so many false alarms at most.
func threshold(all []alarm, truth [][]mistake, allowed int) float64 {
	var wrong []float64
	for i := range all {
		if a := &all[i]; slices.Contains(inferred, a.Kind) && !right(a, truth, "") {
			wrong = append(wrong, a.Probability)
		}
	}
	slices.SortFunc(wrong, func(a, b float64) int { return cmp.Compare(b, a) })
	if len(wrong) <= allowed {
		return 0.01
	}
	return wrong[allowed] + 1e-9
}

func trueMeans(t *generate.Truth) map[record.TeamID]check.Means {
	out := map[record.TeamID]check.Means{}
	for i := range t.Teams {
		team := &t.Teams[i]
		m := check.Means{}
		up := 1.0 // a record says for how long the robot could work
		if team.Points > 0 && team.Working > team.Points {
			up = team.Working / team.Points
		}
		for id, v := range team.Actions {
			m[id] = v
			if v > 1 {
				m[id] = up * v
			}
		}
		for id, v := range team.Misses {
			m[id+"_missed"] = up * v
		}
		out[team.Team] = m
	}
	return out
}
