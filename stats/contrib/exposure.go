package contrib

import "math"

// exposure tells how much of a match a robot could use: w = 1 when nothing
// stopped it, 0 when it was absent. What stops a robot is kept apart from how
// good it is while it works.
type exposure struct {
	w    [][]float64 // [side][robot of the side]
	wVar [][]float64 // its variance: 0 where it was watched
	// mean is w̄, the share of a match that a robot is expected to have; 1 for
	// all while no record tells about stops.
	mean []float64
	// variance of one match's w, pooled over robots, and what is not known of
	// w̄; 0 while no record tells about stops.
	variance float64
	meanVar  []float64
	// stops: share of its matches with 20 s or more stopped, or absent. The
	// venue tells of absence in every match it published, scouts of stops in
	// those that they watched, which stand for the others.
	stops []float64
}

const (
	// Between the two there is a robot that stands: it may have scored before
	// a stop was noted, and its place on the field still helps a little.
	stoppedLoss    = 0.95 // share of a match lost when stopped all the time
	longStop       = 20.0 // seconds, the contract's "stops"
	lossPriorCount = 100  // matches' worth of prior: four in a hundred lost
	lossPrior      = 4.0
	ownPriorCount  = 10 // matches of the event's mean in each robot's own mean
	lossVarPrior   = 1.5
	lossVarCount   = 60
	minLossVar     = 0.005
)

// expose reads absences, stops, and time spent on defending or feeding, so that
// a scorer who was told to defend does not look weak. loss = 1 − w. A record without an answer to
// the game's question about stops says nothing about them; in a game without
// that question a record says only whether the robot was there. For what was
// not watched, w is w̄.
func (e *evidence) expose() *exposure {
	x := &exposure{
		w: make([][]float64, len(e.sides)), wVar: make([][]float64, len(e.sides)), mean: make([]float64, len(e.teams)),
		meanVar: make([]float64, len(e.teams)), stops: make([]float64, len(e.teams)),
	}
	busy := newOccupied(e)

	n, sum, squares := 0.0, 0.0, 0.0
	count, loss := make([]float64, len(e.teams)), make([]float64, len(e.teams))
	absent, there := make([]float64, len(e.teams)), make([]float64, len(e.teams)) // matches, by the venue
	seen, standing := make([]float64, len(e.teams)), make([]float64, len(e.teams))
	records := false
	for i := range e.sides {
		s := &e.sides[i]
		x.w[i], x.wVar[i] = make([]float64, len(s.robots)), make([]float64, len(s.robots))
		for k, r := range s.robots {
			x.w[i][k] = math.NaN() // not known
			var known, lost, stopped float64
			for _, v := range s.views {
				if v.robot != r {
					continue
				}
				share, stood, told := busy.lost(v.obs)
				switch {
				case v.obs.Absent:
					known++
					lost += stoppedLoss // a scout may have looked at the wrong robot
					stopped++
				case told:
					known++
					lost += stoppedLoss * share
					if stood >= longStop {
						stopped++
					}
				case busy.stopped == nil:
					known++
				}
			}
			records = records || known > 0
			switch {
			case s.absent[k]: // official, so it is certain
				known, lost = 1, 1
				absent[r]++
			case known > 0:
				there[r]++
				seen[r]++
				if stopped/known >= 0.5 {
					standing[r]++
				}
			case s.own != nil:
				there[r]++
			}
			if known == 0 {
				continue
			}
			lost /= known
			x.w[i][k] = 1 - lost
			count[r]++
			loss[r] += lost
			n++
			sum += lost
			squares += lost * lost
		}
	}
	for r := range x.stops {
		if all := absent[r] + there[r]; all > 0 {
			x.stops[r] = (absent[r] + there[r]*standing[r]/math.Max(1, seen[r])) / all
		}
	}

	l0 := 0.0
	if records {
		l0 = (sum + lossPrior) / (n + lossPriorCount)
		x.variance = math.Max(minLossVar, (squares+lossVarPrior)/(n+lossVarCount)-l0*l0)
	}
	for r := range x.mean {
		x.mean[r] = 1
		if records {
			x.mean[r] = 1 - (loss[r]+ownPriorCount*l0)/(count[r]+ownPriorCount)
			x.meanVar[r] = x.variance / (count[r] + ownPriorCount)
		}
	}
	for i := range x.w {
		for k, w := range x.w[i] {
			if math.IsNaN(w) {
				r := e.sides[i].robots[k]
				x.w[i][k] = x.mean[r]
				x.wVar[i][k] = x.variance + x.meanVar[r]
			}
		}
	}
	return x
}
