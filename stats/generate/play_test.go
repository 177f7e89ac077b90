package generate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"sextant/stats/game"
)

// games are the game files that everything here has to work with.
func games(t testing.TB) map[string]*game.Game {
	t.Helper()
	files, err := filepath.Glob("../../testdata/games/*.json")
	if err != nil || len(files) < 3 {
		t.Fatalf("games of testdata: %v %v, want at least three", files, err)
	}
	out := map[string]*game.Game{}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		g, err := game.Load(file, data)
		if err != nil {
			t.Fatal(err)
		}
		out[g.ID] = g
	}
	return out
}

func slackwater(t testing.TB) *game.Game {
	t.Helper()
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// world makes a world with some options changed.
func world(t testing.TB, g *game.Game, seed uint64, change func(*Options)) *World {
	t.Helper()
	opt := Defaults()
	if change != nil {
		change(&opt)
	}
	w, err := New(g, rand.New(rand.NewPCG(seed, 0)), opt)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// shared is a full weekend that several tests only read.
var shared = sync.OnceValues(func() (*World, error) {
	g, err := game.Load("slackwater.json", Slackwater())
	if err != nil {
		return nil, err
	}
	return New(g, rand.New(rand.NewPCG(5, 0)), Defaults())
})

func sharedWorld(t testing.TB) *World {
	t.Helper()
	w, err := shared()
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}

func variance(x []float64) (s float64) {
	m := mean(x)
	for _, v := range x {
		s += (v - m) * (v - m) / float64(len(x)-1)
	}
	return s
}

// naive is the points of one robot without any cap.
func naive(c *course, d *doing) (points float64) {
	for _, e := range d.deeds {
		if !e.missed {
			points += c.acts[e.act].Points * e.units
		}
	}
	for k, got := range d.choices {
		points += c.acts[k].Options[got.option].Points
	}
	return points
}

func TestRobotsKeepToTheRulesOfTheMatch(t *testing.T) {
	t.Parallel()
	for id, g := range games(t) {
		w := world(t, g, 3, func(o *Options) { o.Teams, o.MatchesPerTeam = 24, 10 })
		c := w.course
		for i := range w.meetings {
			p := w.run(source(w.seeds[i].play), i)
			for r := range p.robots {
				d := &p.robots[r]
				if d.absent && (len(d.deeds) > 0 || len(d.choices) > 0) {
					t.Fatalf("%s match %d robot %d does something without being there", id, i, r)
				}
				last := 0.0
				for _, e := range d.deeds {
					a := &c.acts[e.act]
					if e.at < a.from || e.at > a.to {
						t.Errorf("%s match %d: %s at %.1f s, outside %v", id, i, a.ID, e.at, a.span)
					}
					if d.stopped.seconds() > 0 && e.at > d.stopped.from && e.at < d.stopped.to {
						t.Errorf("%s match %d: %s at %.1f s while stopped %v", id, i, a.ID, e.at, d.stopped)
					}
					if e.at < last {
						t.Errorf("%s match %d: deeds out of order", id, i)
					}
					if e.missed && !a.Misses && a.Kind != game.Count {
						t.Errorf("%s match %d: a %s of kind %s missed", id, i, a.ID, a.Kind)
					}
					if a.ByAlliance() {
						t.Errorf("%s match %d: robot does %s, which is the alliance's", id, i, a.ID)
					}
					last = e.at
				}
				for k := range c.acts {
					if a := &c.acts[k]; !d.absent && a.Kind == game.Choice && !a.ByAlliance() {
						if _, ok := d.choices[k]; !ok {
							t.Errorf("%s match %d: no outcome of %s", id, i, a.ID)
						}
					}
				}
			}
		}
	}
}

// TestCountsAreOverdispersed plays one match again and again: what one robot
// makes varies more than a Poisson count would.
func TestCountsAreOverdispersed(t *testing.T) {
	t.Parallel()
	w := sharedWorld(t)
	rng := rand.New(rand.NewPCG(1, 1))
	var ratios []float64
	for i := range 8 {
		made := make([][]float64, 6)
		for range 150 {
			p := w.run(rng, i)
			for r := range p.robots {
				n := 0.0
				for _, e := range p.robots[r].deeds {
					if w.course.acts[e.act].ID == "deck" && !e.missed {
						n++
					}
				}
				made[r] = append(made[r], n)
			}
		}
		for _, x := range made {
			if mean(x) > 1 {
				ratios = append(ratios, variance(x)/mean(x))
			}
		}
	}
	slices.Sort(ratios)
	if median := ratios[len(ratios)/2]; median < 1.15 || median > 2.5 {
		t.Errorf("variance of a count is %.2f of its mean, want clearly more than 1", median)
	}
}

// TestSkillsAreOfManyKinds: the distribution of what robots contribute.
func TestSkillsAreOfManyKinds(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	c, err := newCourse(g)
	if err != nil {
		t.Fatal(err)
	}
	fresh := slices.Repeat([]condition{{pace: 1}}, 6)
	var points, sds, tails []float64
	var cover [2][]float64 // deck and hold of the same robot
	for seed := range uint64(6) {
		rng := rand.New(rand.NewPCG(seed, 1))
		robots := make([]robot, 60)
		for i := range robots {
			robots[i] = newRobot(rng, c)
			cover[0], cover[1] = append(cover[0], math.Log(robots[i].trips[2].seconds)), append(cover[1], math.Log(robots[i].trips[3].seconds))
		}
		sum := make([][]float64, len(robots))
		for range 10 {
			for six := range slices.Chunk(rng.Perm(len(robots)), 6) {
				var play []*robot
				for _, i := range six {
					play = append(play, &robots[i])
				}
				p := playMatch(rng, c, play, fresh)
				for r, i := range six {
					sum[i] = append(sum[i], naive(c, &p.robots[r]))
				}
			}
		}
		var means []float64
		for i := range sum {
			means = append(means, mean(sum[i]))
		}
		m, sd := mean(means), math.Sqrt(variance(means))
		points, sds = append(points, m), append(sds, sd/m)
		for _, x := range means {
			tails = append(tails, (x-m)/sd)
		}
	}
	if m := mean(points); m < 24 || m > 38 {
		t.Errorf("a robot contributes %.1f points on average, want a plausible 24 to 38", m)
	}
	if sd := mean(sds); sd < 0.35 || sd > 0.65 {
		t.Errorf("robots differ by %.2f of the mean, want 0.35 to 0.65", sd)
	}
	var fourth float64
	for _, z := range tails {
		fourth += z * z * z * z / float64(len(tails))
	}
	if fourth < 3.3 {
		t.Errorf("kurtosis %.2f, want more than a normal distribution's 3", fourth)
	}
	var both float64
	a, b := cover[0], cover[1]
	for i := range a {
		both += (a[i] - mean(a)) * (b[i] - mean(b)) / float64(len(a)-1)
	}
	if r := both / math.Sqrt(variance(a)*variance(b)); r < 0.3 || r > 0.9 {
		t.Errorf("speed at two actions correlates %.2f, want 0.3 to 0.9", r)
	}
}

// TestStrongPartnersGetInEachOthersWay: pieces are scarce and partners queue, so
// three strong robots make less than three times one among weak partners.
func TestStrongPartnersGetInEachOthersWay(t *testing.T) {
	t.Parallel()
	w := sharedWorld(t)
	order := make([]int, len(w.robots))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		if w.robots[a].rate > w.robots[b].rate {
			return -1
		}
		return 1
	})
	fresh := slices.Repeat([]condition{{pace: 1}}, 6)
	play := func(slots [6]int) (first float64) {
		rng := rand.New(rand.NewPCG(2, 2))
		var robots []*robot
		for _, s := range slots {
			r := w.robots[s]
			r.stops, r.noShow, r.defends = 0, 0, 0
			robots = append(robots, &r)
		}
		for range 300 {
			p := playMatch(rng, w.course, robots, fresh)
			first += naive(w.course, &p.robots[0]) / 300
		}
		return first
	}
	last := len(order) - 1
	weak := [6]int{order[0], order[last], order[last-1], order[last-2], order[last-3], order[last-4]}
	strong := [6]int{order[0], order[1], order[2], order[last-2], order[last-3], order[last-4]}
	alone, together := play(weak), play(strong)
	if together > 0.93*alone || together < 0.5*alone {
		t.Errorf("the best robot makes %.1f points among weak partners and %.1f among strong ones, want 50 to 93 %%", alone, together)
	}
}

func TestDefenceCosts(t *testing.T) {
	t.Parallel()
	w := sharedWorld(t)
	play := func(defends float64) (defended, own float64) {
		rng := rand.New(rand.NewPCG(3, 3))
		var robots []*robot
		for i := range 6 {
			r := w.robots[i]
			r.rate = float64(i) // blue's last is the strongest, red's first the weakest
			r.stops, r.noShow, r.defends = 0, 0, 0
			if i == 0 {
				r.defends = defends
			}
			robots = append(robots, &r)
		}
		for range 300 {
			p := playMatch(rng, w.course, robots, slices.Repeat([]condition{{pace: 1}}, 6))
			defended += naive(w.course, &p.robots[5]) / 300
			own += naive(w.course, &p.robots[0]) / 300
		}
		return defended, own
	}
	freeTheir, freeOwn := play(0)
	their, own := play(1)
	if their > 0.97*freeTheir {
		t.Errorf("the defended robot makes %.1f instead of %.1f points", their, freeTheir)
	}
	if own > 0.9*freeOwn {
		t.Errorf("the defender itself makes %.1f instead of %.1f points", own, freeOwn)
	}
}

func TestRobotsLearnAndChange(t *testing.T) {
	t.Parallel()
	w := sharedWorld(t)
	var first, last []float64
	for m, meeting := range w.meetings {
		for place := range meeting.slots {
			if pace := w.conditions[m][place].pace; m < 10 {
				first = append(first, pace)
			} else if m >= len(w.meetings)-10 {
				last = append(last, pace)
			}
		}
	}
	if mean(last) < mean(first)+0.03 {
		t.Errorf("robots are as fast in the last matches (%.2f) as in the first (%.2f)", mean(last), mean(first))
	}
	if len(w.Marks(w.Matches())) == 0 {
		t.Error("nobody noticed a change of any robot")
	}
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	g := slackwater(t)
	for i, change := range []func(*Options){
		func(o *Options) { o.Teams = 5 },
		func(o *Options) { o.MatchesPerTeam = 0 },
		func(o *Options) { o.FirstTeam = 99990 },
		func(o *Options) { o.Watched = 1.2 },
		func(o *Options) { o.Careless = -0.1 },
		func(o *Options) { o.Mistakes = math.Inf(1) },
		func(o *Options) { o.Scouts = -1 },
		func(o *Options) { o.ScoutNames = []string{"Wren"} },
	} {
		opt := Defaults()
		change(&opt)
		if _, err := New(g, rand.New(rand.NewPCG(1, 0)), opt); err == nil {
			t.Errorf("case %d (%s): no error", i, fmt.Sprintf("%+v", opt))
		}
	}
}
