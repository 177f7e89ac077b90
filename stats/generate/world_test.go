package generate

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/stats/table"
)

// TestSlackwaterIsTheOneOfTheTests: there is one Slackwater, in two places
// because a program cannot embed a file of another folder.
func TestSlackwaterIsTheOneOfTheTests(t *testing.T) {
	t.Parallel()
	want, err := os.ReadFile("../../testdata/games/slackwater.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(Slackwater(), want) {
		t.Error("stats/generate/slackwater.json and testdata/games/slackwater.json differ: copy one over the other")
	}
}

func small(o *Options) { o.Teams, o.MatchesPerTeam = 24, 8 }

func TestSameSeedSameEvent(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	one, other := world(t, g, 7, small).Event(32), world(t, g, 7, small).Event(32)
	if diff := cmp.Diff(one, other, cmp.AllowUnexported(record.MatchID{})); diff != "" {
		t.Errorf("the same seed gives another event: %s", diff)
	}
	if cmp.Equal(one.Matches, world(t, g, 8, small).Event(32).Matches) {
		t.Error("another seed gives the same matches")
	}
	// Any match can be played at any time.
	w := world(t, g, 7, small)
	for _, i := range []int{20, 3, 20} {
		if m, _ := w.Play(i); !cmp.Equal(m, one.Matches[i]) {
			t.Errorf("match %d played on its own differs", i)
		}
	}
}

// TestPhrasesChangeNothingElse: they are drawn apart, so a game file can get
// some and every figure stays.
func TestPhrasesChangeNothingElse(t *testing.T) {
	t.Parallel()
	with, without := slackwater(t), slackwater(t)
	without.Phrases = nil
	one, other := world(t, with, 7, small).Event(32), world(t, without, 7, small).Event(32)
	said := 0
	for i := range one.Observations {
		if slices.Contains(with.Phrases, one.Observations[i].Note) {
			said++
		}
		one.Observations[i].Note, other.Observations[i].Note = "", ""
	}
	if diff := cmp.Diff(one, other, cmp.AllowUnexported(record.MatchID{}), cmpopts.IgnoreFields(record.Event{}, "Game")); diff != "" {
		t.Errorf("phrases changed more than notes: %s", diff)
	}
	if n := len(one.Observations); said < n/25 || said > n/8 {
		t.Errorf("%d of %d records have a phrase, not about one in twelve", said, n)
	}
}

func TestScoutsDoNotChangeTheMatches(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	few := world(t, g, 7, func(o *Options) { small(o); o.Watched, o.Mistakes = 0.3, 3 })
	many := world(t, g, 7, small)
	for i := range few.Matches() {
		a, _ := few.Play(i)
		b, _ := many.Play(i)
		if !cmp.Equal(a, b) {
			t.Fatalf("match %d comes out differently when it is watched by others", i)
		}
	}
}

// TestPerfectRecordsExplainTheResults: with scouts who see everything, the
// game file turns the records into exactly what the venue publishes.
func TestPerfectRecordsExplainTheResults(t *testing.T) {
	t.Parallel()
	for id, g := range games(t) {
		w := world(t, g, 11, func(o *Options) { small(o); o.Watched, o.Double, o.Mistakes = 1, 0, 0 })
		for i := range w.Matches() {
			m, seen := w.Play(i)
			size := len(m.Red.Teams)
			if len(seen) != 2*size {
				t.Fatalf("%s %s: %d records of %d robots", id, m.ID, len(seen), 2*size)
			}
			var did [2]game.Played
			for n, o := range seen {
				side := &did[n/size]
				r := game.Robot{Counts: map[string]float64{}, Choices: map[string]string{}}
				for id, tally := range o.Counts {
					r.Counts[id] = *tally.Made
				}
				for id, chosen := range o.Choices {
					r.Choices[id] = chosen.Option
				}
				side.Robots = append(side.Robots, r)
				for id, times := range o.Fouls {
					if side.Fouls == nil {
						side.Fouls = map[string]float64{}
					}
					side.Fouls[id] += times
				}
			}
			// What the alliance did together is in no scout's record.
			p := w.run(source(w.seeds[i].play), i)
			for s := range did {
				did[s].Alliance = w.together(p.alliance[s])
			}
			red, blue := g.Score(did[0], did[1])
			for side, got := range map[record.Colour]game.Scored{record.Red: red, record.Blue: blue} {
				want := m.Side(side).Result
				if math.Abs(got.Points-want.Score) > 1e-9 || math.Abs(got.FromFouls-*want.FromFouls) > 1e-9 ||
					math.Abs(got.Ranking-*want.RankingPoints) > 1e-9 || !cmp.Equal(got.Components, want.Components) {
					t.Errorf("%s %s %s: records give %+v, official is %+v", id, m.ID, side, got, *want)
				}
			}
		}
	}
}

// TestFilesCanBeRead writes an event in the contract's forms and reads it back.
func TestFilesCanBeRead(t *testing.T) {
	t.Parallel()
	for id, g := range games(t) {
		w := world(t, g, 2, func(o *Options) {
			small(o)
			o.Mistakes, o.RobotFacts = 3, true
			o.Start = time.Date(2031, 3, 6, 9, 0, 0, 0, time.FixedZone("", -5*60*60))
		})
		ev := w.Event(25)
		var teams, matches, observations, marks bytes.Buffer
		for _, err := range []error{
			table.WriteTeams(&teams, ev.Teams), table.WriteMatches(&matches, g, ev.Matches),
			table.WriteObservations(&observations, g, ev.Observations), table.WriteMarks(&marks, ev.Marks),
		} {
			if err != nil {
				t.Fatal(err)
			}
		}
		back, err := table.Load(g, table.Files{
			Teams: &table.File{Name: "teams.csv", R: &teams}, Matches: &table.File{Name: "matches.csv", R: &matches},
			Observations: &table.File{Name: "observations.csv", R: &observations}, Marks: &table.File{Name: "marks.csv", R: &marks},
		})
		if err != nil {
			t.Fatalf("%s: %v", id, err)
		}
		if len(back.Observations) != len(ev.Observations) || len(back.Matches) != len(ev.Matches) || len(back.Teams) != len(ev.Teams) || len(back.Marks) != len(ev.Marks) {
			t.Errorf("%s: read back %d records, %d matches, %d teams, %d marks; wrote %d, %d, %d, %d", id,
				len(back.Observations), len(back.Matches), len(back.Teams), len(back.Marks),
				len(ev.Observations), len(ev.Matches), len(ev.Teams), len(ev.Marks))
		}
	}
}

func TestScheduleIsTimed(t *testing.T) {
	t.Parallel()
	start := time.Date(2031, 3, 6, 9, 0, 0, 0, time.UTC)
	w := world(t, slackwater(t), 2, func(o *Options) { small(o); o.Start = start })
	matches := w.Schedule()
	last := start.Add(-time.Minute)
	for i, m := range matches {
		if !m.StartsAt.After(last) || m.Played() || m.ID.Number != i+1 {
			t.Errorf("match %d: %s starts at %s after %s, played %t", i, m.ID, m.StartsAt, last, m.Played())
		}
		last = m.StartsAt
	}
	if !matches[0].StartsAt.Equal(start) || last.Before(start.AddDate(0, 0, 1)) {
		t.Errorf("matches from %s to %s, want two days from %s", matches[0].StartsAt, last, start)
	}
}

// TestScoutsErr measures how records differ from what happened.
func TestScoutsErr(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	w := world(t, g, 4, func(o *Options) { o.Careless, o.Timeline = 0.3, true })
	var made, counted, missed, countedMissed, robots, blank, absent float64
	twice := map[string]int{}
	for i := range w.Matches() {
		p := w.run(source(w.seeds[i].play), i)
		m, seen := w.Play(i)
		teams := slices.Concat(m.Red.Teams, m.Blue.Teams)
		robots += float64(len(teams))
		for _, o := range seen {
			if key := fmt.Sprint(m.ID, o.Scout); twice[key] > 0 {
				t.Errorf("%s watches two robots in %s", o.Scout, m.ID)
			} else {
				twice[key]++
			}
			if o.Absent {
				absent++
				continue
			}
			deck, ok := o.Counts["deck"]
			if !ok {
				blank++
				continue
			}
			counted, countedMissed = counted+*deck.Made, countedMissed+*deck.Missed
			for _, e := range p.robots[slices.Index(teams, o.Team)].deeds {
				if w.course.acts[e.act].ID == "deck" && !e.missed {
					made++
				} else if w.course.acts[e.act].ID == "deck" {
					missed++
				}
			}
			var taps float64
			for _, tap := range o.Taps {
				if tap.Action == "deck" {
					taps += tap.Step
				}
				if tap.MS < 0 || float64(tap.MS) > 1000*(w.course.end+1) {
					t.Errorf("%s %s: a tap at %d ms", m.ID, o.Team, tap.MS)
				}
			}
			if taps != *deck.Made {
				t.Errorf("%s %s: taps give %g, the count is %g", m.ID, o.Team, taps, *deck.Made)
			}
		}
	}
	if r := counted / made; r < 0.88 || r > 0.99 {
		t.Errorf("scouts count %.3f of what was made, want a little less than all", r)
	}
	if r := countedMissed / missed; r > counted/made-0.04 {
		t.Errorf("scouts count %.3f of the misses and %.3f of the makes; misses are seen less", r, counted/made)
	}
	if blank == 0 || absent == 0 {
		t.Errorf("%g blank cells, %g absent robots, want some of both", blank, absent)
	}
	kinds := map[string]int{}
	for _, wrong := range w.Truth(2).Mistakes {
		kinds[wrong.Kind]++
	}
	for _, kind := range []string{"swap", "wrong_robot", "period", "missing"} {
		if kinds[kind] == 0 {
			t.Errorf("no mistake of kind %s in %d matches: %v", kind, w.Matches(), kinds)
		}
	}
	if share := 1 - float64(kinds["missing"])/robots; share < 0.85 || share > 0.97 {
		t.Errorf("%.3f of all robots are watched, want about 0.93", share)
	}
}

// TestSwapsAreInTheRecords: a mistake of the truth is what the records show.
func TestSwapsAreInTheRecords(t *testing.T) {
	t.Parallel()
	w := world(t, slackwater(t), 4, func(o *Options) { o.Mistakes = 0.0001; o.MatchesPerTeam = 6 })
	for i := range w.scouts { // only swaps
		w.scouts[i].slips = 10
	}
	found := 0
	for i := range w.Matches() {
		p := w.run(source(w.seeds[i].play), i)
		m, seen, wrong := w.play(i)
		teams := slices.Concat(m.Red.Teams, m.Blue.Teams)
		for _, x := range wrong {
			if x.Kind != "swap" {
				continue
			}
			for _, o := range seen {
				at := slices.Index(x.Teams, o.Team)
				if at < 0 || o.Scout != x.Scouts[at] || o.Absent || len(o.Counts) < 5 {
					continue
				}
				other := w.robotOf(&p.robots[slices.Index(teams, x.Teams[1-at])])
				own := w.robotOf(&p.robots[slices.Index(teams, o.Team)])
				if own.Counts["hold"] != other.Counts["hold"] && *o.Counts["hold"].Made == other.Counts["hold"] {
					found++
				}
			}
		}
	}
	if found < 5 {
		t.Errorf("%d swapped records show the other robot's counts, want several", found)
	}
}

// TestTruthIsAnOracle: what the truth says comes true on average.
func TestTruthIsAnOracle(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	var brier, climate, z, n, inside float64
	for _, w := range []*World{sharedWorld(t), world(t, g, 1, nil)} {
		truth := w.Truth(40)
		if len(truth.Teams) != 60 || len(truth.Matches) != w.Matches() {
			t.Fatalf("truth of %d teams and %d matches", len(truth.Teams), len(truth.Matches))
		}
		for i, f := range truth.Matches {
			m, _ := w.Play(i)
			outcome := 0.5
			if m.Red.Result.Score > m.Blue.Result.Score {
				outcome = 1
			} else if m.Red.Result.Score < m.Blue.Result.Score {
				outcome = 0
			}
			if sum := f.Chance.Red + f.Chance.Blue + f.Chance.Tie; math.Abs(sum-1) > 1e-9 {
				t.Errorf("%s: chances sum to %g", f.Match, sum)
			}
			p := f.Chance.Red + f.Chance.Tie/2
			brier += (p - outcome) * (p - outcome)
			climate += (0.5 - outcome) * (0.5 - outcome)
			for side, s := range map[record.Colour]record.ScoreSpread{record.Red: f.Red, record.Blue: f.Blue} {
				x := m.Side(side).Result.Score
				z += (x - s.Mean) / s.SD
				if x >= s.P10 && x <= s.P90 {
					inside++
				}
				n++
			}
		}
		var expected float64 // what the robots bring is what the alliances score without fouls and bonuses
		for _, team := range truth.Teams {
			if team.Working < team.Points-1 || team.Stops < 0 || team.Stops > 1 {
				t.Errorf("team %s: %+v", team.Team, team)
			}
			expected += team.Points / 60 * 3
		}
		var own, sides float64
		for _, m := range w.Event(w.Matches()).Matches {
			own, sides = own+m.Red.Result.Own()+m.Blue.Result.Own(), sides+2
		}
		if r := own / sides / expected; r < 0.95 || r > 1.05 {
			t.Errorf("alliances score %.1f on average, the truth says %.1f", own/sides, expected)
		}
	}
	if brier/climate > 0.75 || brier/climate < 0.4 {
		t.Errorf("the oracle's Brier score is %.3f of a coin's, want clearly better and not certain", brier/climate)
	}
	if math.Abs(z/n) > 0.15 {
		t.Errorf("scores lie %.2f sd beside the truth on average", z/n)
	}
	if r := inside / n; r < 0.73 || r > 0.9 {
		t.Errorf("%.2f of the scores lie within the 80 %% interval", r)
	}
}

func TestNamesDiffer(t *testing.T) {
	t.Parallel()
	names := teamNames(rand.New(rand.NewPCG(1, 1)), 2000)
	slices.Sort(names)
	if n := len(slices.Compact(names)); n != 2000 {
		t.Errorf("%d different names of 2000", n)
	}
}

func BenchmarkWorld(b *testing.B) {
	g := slackwater(b)
	for b.Loop() {
		w := world(b, g, 1, nil)
		w.Event(w.Matches())
	}
}

// TestRecordsAreValid checks what scouts wrote as the server would.
func TestRecordsAreValid(t *testing.T) {
	t.Parallel()
	for id, g := range games(t) {
		w := world(t, g, 9, func(o *Options) { small(o); o.Timeline, o.Mistakes, o.RobotFacts = true, 3, true })
		for _, o := range w.Event(w.Matches()).Observations {
			body, err := json.Marshal(o)
			if err != nil {
				t.Fatal(err)
			}
			if problems := record.CheckBody(g, record.KindObservation, body); len(problems) > 0 {
				t.Fatalf("%s: %s of %s in %s is refused: %v\n%s", id, o.Scout, o.Team, o.Match, problems, body)
			}
		}
		for _, m := range w.Event(w.Matches()).Matches {
			for _, side := range []record.Colour{record.Red, record.Blue} {
				body, err := json.Marshal(record.BodyOf(&m, side))
				if err != nil {
					t.Fatal(err)
				}
				if problems := record.CheckBody(g, record.KindResult, body); len(problems) > 0 {
					t.Fatalf("%s: the result of %s is refused: %v\n%s", id, m.ID, problems, body)
				}
			}
		}
	}
}
