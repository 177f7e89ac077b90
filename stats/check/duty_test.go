package check

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/record"
)

// By hand: four lengths of duty with three records each, every longer one
// further out. Of 54 pairs 27 are expected, with variance (12²·27 − 4·3²·9)/72.
func TestTrendByHand(t *testing.T) {
	t.Parallel()
	var list []sat
	for i := range 12 {
		list = append(list, sat{play: i, duty: i / 3, far: float64(i)})
	}
	z, ok := trend(list)
	if want := 27 / math.Sqrt(49.5); !ok || math.Abs(z-want) > 1e-12 {
		t.Errorf("%v, want %v", z, want)
	}
	for i := range list {
		list[i].far = -list[i].far
	}
	if z, _ := trend(list); math.Abs(z+27/math.Sqrt(49.5)) > 1e-12 {
		t.Errorf("%v the other way round", z)
	}
	if _, ok := trend(list[:11]); ok {
		t.Error("a trend of eleven records")
	}
}

// Whatever the law of the distances, the statistic has mean 0 and variance 1
// when they do not depend on duty: over 4000 orders by chance, to four standard
// errors.
func TestTrendOfNothing(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(71, 0))
	var list []sat
	for i := range 24 {
		list = append(list, sat{play: i, duty: i % 8, far: math.Exp(2 * rng.NormFloat64())})
	}
	const orders = 4000
	var sum, square2 float64
	for range orders {
		rng.Shuffle(len(list), func(i, j int) { list[i].far, list[j].far = list[j].far, list[i].far })
		z, _ := trend(list)
		sum += z / orders
		square2 += z * z / orders
	}
	if math.Abs(sum) > 4/math.Sqrt(orders) || math.Abs(square2-1) > 4*math.Sqrt(2.0/orders) {
		t.Errorf("mean %v, mean square %v", sum, square2)
	}
}

// Duty begins anew after two matches that were not watched, after half an hour
// without a match and on another day, and one match left out is no break.
func TestDutiesCountMatches(t *testing.T) {
	t.Parallel()
	ev := &record.Event{Game: &game.Game{}}
	at := time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	for i := range 30 {
		switch i {
		case 10:
			at = at.AddDate(0, 0, 1)
		case 20:
			at = at.Add(time.Hour)
		}
		ev.Matches = append(ev.Matches, record.Match{ID: record.MatchID{Stage: record.Qualification, Number: i + 1}, Play: 1, StartsAt: at})
		at = at.Add(8 * time.Minute)
	}
	var apart []contrib.Apart
	watch := func(scout string, matches ...int) {
		for _, m := range matches {
			apart = append(apart, contrib.Apart{Match: ev.Matches[m-1].ID, Play: 1, Scout: scout, T: 1})
		}
	}
	watch("day", 8, 9, 10, 11, 12)
	watch("gap", 21, 23, 24, 26, 27, 28)
	watch("hour", 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28)
	watch("rest", 21, 22, 23, 26, 27, 28)
	watch("yesterday", 5, 6)
	watch("gone", 21, 22)
	want := map[string]int{"day": 0, "gap": 6, "hour": 8, "rest": 3, "gone": 0}
	got := map[string]int{}
	for _, d := range Duties(ev, apart) {
		got[d.Scout] = d.Matches
		if d.Less || d.Trend != nil {
			t.Errorf("%+v by so few records", d)
		}
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// Somebody whose counts scatter and fall the longer on is told while on duty, and
// not once at rest.
func TestDutiesTell(t *testing.T) {
	t.Parallel()
	ev := &record.Event{Game: &game.Game{}}
	for i := range 20 {
		ev.Matches = append(ev.Matches, record.Match{ID: record.MatchID{Stage: record.Qualification, Number: i + 1}, Play: 1})
	}
	var apart []contrib.Apart
	for i := range 16 {
		sign := 1.0
		if i%3 > 0 {
			sign = -1
		}
		apart = append(apart, contrib.Apart{Match: ev.Matches[i].ID, Scout: "tired", T: sign * 0.2 * float64(i)},
			contrib.Apart{Match: ev.Matches[i].ID, Scout: "fresh", T: sign * float64((7*i)%5) / 2})
	}
	for _, d := range Duties(ev, apart) {
		if d.Less != (d.Scout == "tired") || d.Matches != 16 || d.Trend == nil {
			t.Errorf("%+v", d)
		}
	}
	for i := 16; i < 20; i++ {
		apart = append(apart, contrib.Apart{Match: ev.Matches[i].ID, Scout: "fresh"})
	}
	for _, d := range Duties(ev, apart) {
		if d.Scout == "tired" && (d.Less || d.Matches != 0) {
			t.Errorf("at rest: %+v", d)
		}
	}
}
