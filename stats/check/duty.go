package check

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"sextant/stats/contrib"
	"sextant/stats/record"
)

// Duty is how long a scout has been on without a break, and whether that shows.
type Duty struct {
	Scout string `json:"scout"`
	// Matches watched in a row up to now; 0: resting, or gone for the day.
	Matches int `json:"matches"`
	// Trend says how much less surely the scout counts today the longer on without
	// a break: normal with mean 0 and variance 1 if not at all; nil: too few records.
	Trend *float64 `json:"trend,omitempty"`
	// Less: on duty now, and Trend is beyond what luck gives one scout in twenty in
	// a day that is looked at after every match.
	Less bool `json:"less"`
}

const (
	// Watching nothing in so many matches in a row is a break, as is so long a
	// time between two matches; common practice, no source.
	breakMatches = 2
	breakTime    = 30 * time.Minute
	// Records of a day, and different lengths of duty among them, that a trend needs.
	trendRecords, trendLengths = 12, 4
)

const (
	// LeastDuty is the matches in a row from which on a break is spoken of because
	// counts get less sure.
	LeastDuty = 4
	// TrendLimit is the trend that one in twenty scouts who do not tire reaches on
	// a day that is looked at after every match; found on invented events, see
	// stats/check.md.
	TrendLimit = 2.4
)

// Duties are those of all scouts who made a record on the day of the last one, in
// order of name. apart are the records' distances from all else that is known
// (contrib.Fit.Apart), those up to now.
func Duties(ev *record.Event, apart []contrib.Apart) []Duty {
	t := &table{ev: ev, g: ev.Game, index: map[record.TeamID]int{}}
	t.layPlays()
	return t.duties(apart)
}

// sat is one match that a scout watched.
type sat struct {
	play int
	duty int     // matches watched before it since the last break
	far  float64 // how much it looks like one of somebody tired, see unsure
}

func (t *table) duties(apart []contrib.Apart) []Duty {
	type key struct {
		match record.MatchID
		play  int
	}
	at := map[key]int{}
	for i := range t.plays {
		at[key{t.plays[i].match.ID, max(1, t.plays[i].match.Play)}] = i
	}
	by := map[string][]sat{}
	last := -1
	for _, a := range apart {
		i, ok := at[key{a.Match, max(1, a.Play)}]
		if !ok {
			continue
		}
		last = max(last, i)
		by[a.Scout] = append(by[a.Scout], sat{play: i, far: unsure(a.T)})
	}
	out := []Duty{}
	for _, name := range slices.Sorted(maps.Keys(by)) {
		list := slices.DeleteFunc(by[name], func(s sat) bool { return t.day(s.play) != t.day(last) })
		if len(list) == 0 {
			continue
		}
		slices.SortStableFunc(list, func(a, b sat) int { return cmp.Compare(a.play, b.play) })
		for i := 1; i < len(list); i++ {
			switch a, b := list[i-1], &list[i]; {
			case a.play == b.play:
				b.duty = a.duty // watched two robots
			case !t.rested(a.play, b.play):
				b.duty = a.duty + 1
			}
		}
		d := Duty{Scout: name}
		if end := list[len(list)-1]; !t.rested(end.play, last) {
			d.Matches = end.duty + 1
		}
		if z, ok := trend(list); ok {
			d.Trend = &z
			d.Less = d.Matches >= LeastDuty && z >= TrendLimit
		}
		out = append(out, d)
	}
	return out
}

func (t *table) day(play int) string { return t.plays[play].match.StartsAt.Format(time.DateOnly) }

// rested: there was a break between two plays that a scout watched.
func (t *table) rested(a, b int) bool {
	from, to := t.plays[a].match.StartsAt, t.plays[b].match.StartsAt
	return b-a > breakMatches || !from.IsZero() && !to.IsZero() && b == a+1 && to.Sub(from) >= breakTime || t.day(a) != t.day(b)
}

// unsure is how much a record that lies t standard deviations from all else that
// is known looks like one of somebody tired: such a scout overlooks things, so
// counts lie low, and lie further away either way. It is the score of the
// likelihood of a normal law whose mean falls by so much as its variance grows by
// one and a half, which is about what invented scouts that tire show.
func unsure(t float64) float64 {
	t = math.Max(-3, math.Min(3, t)) // one exchanged record is no sign of it
	return 0.75*t*t - t
}

// trend is the standardised statistic of the one-sided test against distances
// that grow with duty: of all pairs of records of different duty, how many more
// than half have the greater distance at the longer duty (Jonckheere 1954,
// Biometrika 41, doi:10.1093/biomet/41.1-2.133; Terpstra 1952). It needs no law of
// the distances, and hardly feels a record that is far out. false: too few records.
func trend(list []sat) (float64, bool) {
	lengths := map[int]float64{}
	var pairs float64
	for i, a := range list {
		lengths[a.duty]++
		for _, b := range list[i+1:] {
			switch sign := (a.duty - b.duty) * cmp.Compare(a.far, b.far); {
			case sign > 0:
				pairs++
			case a.duty != b.duty && a.far == b.far:
				pairs += 0.5
			}
		}
	}
	n := float64(len(list))
	if n < trendRecords || len(lengths) < trendLengths {
		return 0, false
	}
	mean, variance := n*n, n*n*(2*n+3)
	for _, d := range slices.Sorted(maps.Keys(lengths)) {
		m := lengths[d]
		mean -= m * m
		variance -= m * m * (2*m + 3)
	}
	return (pairs - mean/4) / math.Sqrt(variance/72), true
}
