package generate

import (
	"fmt"
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
	for _, tt := range [][3]int{{5, 10, 3}, {48, 0, 3}, {48, 10, 0}} {
		if _, err := schedule(rand.New(rand.NewPCG(1, 2)), tt[0], tt[1], tt[2]); err == nil {
			t.Errorf("%v: no error", tt)
		}
	}
}
