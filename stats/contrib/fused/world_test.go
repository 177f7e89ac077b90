package fused

import (
	"math"
	"math/rand/v2"
)

// world draws a problem from the model's own equations, with the truth.
type world struct {
	robots, scouts, matches int
	watched                 float64
	c                       Components
	scale                   float64
	walk                    bool // with walk and drift
	rest                    float64
	far                     float64 // robot 0 is so much better than the mean, units of s
}

type truth struct {
	theta []float64 // at the end, points
	bias  []float64
}

func (w world) draw(rng *rand.Rand) (*Problem, truth) {
	s, size := w.scale, 3
	p := &Problem{Robots: w.robots, Scouts: w.scouts, Size: size, Scale: s, RestSD: w.rest}
	normal := rng.NormFloat64
	shared := sharedSD * normal()
	theta, bias := make([]float64, w.robots), make([]float64, w.scouts)
	for i := range theta {
		theta[i] = 1 + shared + w.c[Robot]*normal()
	}
	if w.far > 0 {
		theta[0] = 1 + shared + w.far
	}
	common := commonBiasSD * normal()
	for k := range bias {
		bias[k] = biasMean + common + w.c[Bias]*normal()
	}
	drift, rest := driftSD*normal(), w.rest/s*normal()
	var deck []int
	for m := range w.matches {
		if len(deck) < 2*size {
			deck = append(deck, rng.Perm(w.robots)...)
		}
		var six []int
		for at := 0; len(six) < 2*size; at++ {
			if at == len(deck) {
				deck = append(deck, rng.Perm(w.robots)...)
			}
			r := deck[at]
			for _, o := range six {
				if o == r {
					r = -1
				}
			}
			if r >= 0 {
				six = append(six, r)
				deck = append(deck[:at], deck[at+1:]...)
				at--
			}
		}
		var play Play
		points := make([]float64, len(six))
		if w.walk {
			for i := range theta {
				theta[i] += drift * 2 * float64(size) / float64(w.robots)
			}
		}
		for k, r := range six {
			if w.walk {
				theta[r] += w.c[Walk] * normal()
			}
			play.Present = append(play.Present, Present{Robot: r, Exposure: 1})
			points[k] = theta[r] + math.Sqrt(matchVar(&w.c, 0.5*math.Max(theta[r], weakBase)+0.5))*normal()
		}
		for _, at := range []int{0, size} {
			y := rest + math.Sqrt(totalSD*totalSD+w.c[Rest]*w.c[Rest])*normal()
			for k := at; k < at+size; k++ {
				y += points[k]
			}
			play.Sides = append(play.Sides, Side{at, at + size})
			play.Totals = append(play.Totals, Total{From: at, To: at + size, Own: s * y})
		}
		for k := range six {
			if w.scouts > 0 && rng.Float64() < w.watched {
				b := (k + 6*m) % w.scouts
				z := (1 + bias[b]) * points[k]
				z += math.Sqrt(countVar(&w.c, points[k])) * normal()
				play.Views = append(play.Views, View{Slot: k, Scout: b, Points: s * z})
			}
		}
		p.Plays = append(p.Plays, play)
	}
	t := truth{theta: theta, bias: bias}
	for i := range theta {
		theta[i] *= s
	}
	return p, t
}

func fullWorld() world {
	return world{robots: 60, scouts: 12, matches: 120, watched: 0.95, c: Medians(), scale: 25, walk: true, rest: 1}
}

func source(a uint64) *rand.Rand { return rand.New(rand.NewPCG(a, 77)) }
