package generate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestScheduleIsBalanced(t *testing.T) {
	t.Parallel()
	tests := []struct {
		teams, perTeam, size    int
		surrogates              int // places that are left over
		gap, partners, opponent int // least gap; most meetings of one pair
	}{
		{48, 10, 3, 0, 4, 2, 3},
		{60, 12, 3, 0, 4, 2, 3},
		{41, 11, 3, 5, 3, 2, 3},
		{75, 10, 3, 0, 4, 2, 2},
		{24, 8, 2, 0, 3, 1, 2},
		{7, 5, 2, 1, 1, 4, 5}, // hardly any choice: legal is enough
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%dx%d", tt.teams, tt.perTeam), func(t *testing.T) {
			t.Parallel()
			meetings, err := schedule(rand.New(rand.NewPCG(1, 2)), tt.teams, tt.perTeam, tt.size)
			if err != nil {
				t.Fatal(err)
			}
			counted, surrogates := make([]int, tt.teams), 0
			last, red, gap := make([]int, tt.teams), make([]int, tt.teams), len(meetings)
			with, versus := map[[2]int]int{}, map[[2]int]int{}
			for m, meeting := range meetings {
				if len(meeting.slots) != 2*tt.size {
					t.Fatalf("match %d has %d robots", m+1, len(meeting.slots))
				}
				for i, a := range meeting.slots {
					if slices.Contains(meeting.surrogates, a) {
						surrogates++
					} else {
						counted[a]++
					}
					if last[a] > 0 {
						gap = min(gap, m+1-last[a])
					}
					last[a] = m + 1
					if i < tt.size {
						red[a]++
					} else {
						red[a]--
					}
					for j, b := range meeting.slots[:i] {
						if a == b {
							t.Fatalf("match %d has team %d twice", m+1, a)
						}
						if pair := [2]int{min(a, b), max(a, b)}; (i < tt.size) == (j < tt.size) {
							with[pair]++
						} else {
							versus[pair]++
						}
					}
				}
			}
			for team, n := range counted {
				if n != tt.perTeam {
					t.Errorf("team %d has %d counted matches, want %d", team, n, tt.perTeam)
				}
				if red[team] < -3 || red[team] > 3 {
					t.Errorf("team %d plays %+d matches more as red than as blue", team, red[team])
				}
			}
			if surrogates != tt.surrogates {
				t.Errorf("%d surrogates, want %d", surrogates, tt.surrogates)
			}
			if gap < tt.gap {
				t.Errorf("a team plays again after %d matches, want at least %d", gap, tt.gap)
			}
			for pair, n := range with {
				if n > tt.partners {
					t.Errorf("teams %v are partners %d times, want at most %d", pair, n, tt.partners)
				}
			}
			for pair, n := range versus {
				if n > tt.opponent {
					t.Errorf("teams %v are opponents %d times, want at most %d", pair, n, tt.opponent)
				}
			}
		})
	}
}

func TestScheduleRefuses(t *testing.T) {
	t.Parallel()
	for _, tt := range [][3]int{{5, 10, 3}, {48, 0, 3}, {48, 10, 0}, {12, 5000, 3}, {48, math.MaxInt, 3}} {
		if _, err := schedule(rand.New(rand.NewPCG(1, 2)), tt[0], tt[1], tt[2]); err == nil {
			t.Errorf("%v: no error", tt)
		}
	}
}

// TestCostIsKept: the cost that is kept while places are exchanged is the cost
// of the schedule, and it is what the weights say of it.
func TestCostIsKept(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 4))
	const teams, size = 12, 3
	var deck []int
	for range 5 {
		deck = append(deck, rng.Perm(teams)...)
	}
	s := newSearch(deck, teams, size)
	for range 500 {
		p, q := rng.IntN(len(deck)), rng.IntN(len(deck))
		if s.deck[p] != s.deck[q] {
			s.exchange(p, q)
		}
	}
	var want float64
	at, sides := make([][]int, teams), make([][2 * size]int, teams)
	pairs := map[[3]int]int{} // team, team, 0 partners or 1 opponents
	for p, a := range s.deck {
		m, place := p/(2*size), p%(2*size)
		at[a], sides[a][place] = append(at[a], m), sides[a][place]+1
		for q := m * 2 * size; q < p; q++ {
			b := s.deck[q]
			if a == b {
				want += costTwice
				continue
			}
			kind := 0
			if (place < size) != (q%(2*size) < size) {
				kind = 1
			}
			pairs[[3]int{min(a, b), max(a, b), kind}]++
		}
	}
	for pair, n := range pairs {
		want += []float64{costPartner, costOpponent}[pair[2]] * float64(n*n)
	}
	for a := range teams {
		lean := 0
		for place, n := range sides[a] {
			want += costStation * float64(n*n)
			if place < size {
				lean += n
			} else {
				lean -= n
			}
		}
		want += costColour * float64(lean*lean)
		for i := 1; i < len(at[a]); i++ {
			if short := s.gap - (at[a][i] - at[a][i-1]); short > 0 {
				want += costGap * float64(short*short)
			}
		}
	}
	if diff := s.cost - want; diff > 1e-6 || diff < -1e-6 {
		t.Errorf("the search keeps a cost of %.3f, the schedule has %.3f", s.cost, want)
	}
}
