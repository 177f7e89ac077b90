package selection_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/stats/selection"
)

func team(n int) record.TeamID { return record.TeamID(strconv.Itoa(n)) }

// entry is a move with an id that a test can tell apart.
func entry(id byte, step int, m selection.Move) selection.Entry {
	return selection.Entry{ID: uuid.UUID{15: id}, SelectionBody: record.SelectionBody{
		Step: step, Round: m.Round, Captain: m.Captain, Invites: m.Invites, Answer: m.Answer, Backup: m.Backup,
	}}
}

// random makes one move, of which about a third are against the rules.
func random(rng *rand.Rand, b *selection.Board) selection.Move {
	n := len(b.Ranking())
	m := selection.Move{Captain: team(1 + rng.IntN(n)), Invites: team(1 + rng.IntN(n+1))}
	turn, on := b.Turn()
	if on && rng.IntN(6) > 0 {
		m.Captain, m.Round = turn.Captain, turn.Round
	}
	if pool := b.Pool(); len(pool) > 0 && rng.IntN(4) > 0 {
		m.Invites = pool[rng.IntN(len(pool))]
	}
	switch x := rng.IntN(20); {
	case x < 12:
		m.Answer = selection.Accepts
	case x < 16:
		m.Answer = selection.Declines
	case x < 17:
		m.Answer = selection.NoShow
	case x < 18:
		m.Answer, m.Invites = selection.NoShow, ""
	default:
		m.Answer, m.Invites = selection.NobodyLeft, ""
	}
	m.Backup = !on && rng.IntN(2) > 0
	return m
}

// check holds what is true of every board.
func check(t *testing.T, b *selection.Board) {
	t.Helper()
	rank := map[record.TeamID]int{}
	for i, r := range b.Ranking() {
		rank[r] = i
	}
	seen := map[record.TeamID]bool{}
	last := -1
	for _, a := range b.Alliances() {
		if rank[a.Captain] <= last {
			t.Errorf("captain %s of alliance %d is ranked above an earlier one", a.Captain, a.Alliance)
		}
		last = rank[a.Captain]
		for _, m := range slices.Concat([]record.TeamID{a.Captain}, a.Picks, a.Backups) {
			if seen[m] {
				t.Errorf("%s is in two alliances", m)
			}
			seen[m] = true
			if b.AllianceOf(m) != a.Alliance {
				t.Errorf("AllianceOf(%s) = %d, want %d", m, b.AllianceOf(m), a.Alliance)
			}
		}
		if len(a.Picks) > b.Rules().Picks || len(a.Backups) > b.Rules().Backups {
			t.Errorf("alliance %d has too many robots: %+v", a.Alliance, a)
		}
		if slices.ContainsFunc(a.Picks, func(p record.TeamID) bool { return slices.Contains(b.Declined(), p) }) {
			t.Errorf("alliance %d has a team that declined: %+v", a.Alliance, a)
		}
	}
	for _, p := range b.Pool() {
		if why := b.WhyNot(p); why != "" {
			t.Errorf("%s is in the pool and may not be invited: %s", p, why)
		}
	}
	for _, g := range b.Gone() {
		if seen[g] {
			t.Errorf("%s did not show and is in an alliance", g)
		}
	}
}

// play makes random moves and returns those that count, as a log.
func play(t *testing.T, rng *rand.Rand, b *selection.Board, moves int) []selection.Entry {
	var log []selection.Entry
	for range moves {
		m := random(rng, b)
		before := fmt.Sprint(b.Alliances(), b.Declined(), b.Gone())
		if err := b.Move(m); err != nil {
			if after := fmt.Sprint(b.Alliances(), b.Declined(), b.Gone()); after != before {
				t.Fatalf("refused move %+v (%v) changed the board", m, err)
			}
			continue
		}
		log = append(log, entry(byte(len(log)+1), selection.NextStep(log), m))
		check(t, b)
	}
	return log
}

func numbers(n int) []record.TeamID {
	out := make([]record.TeamID, n)
	for i := range out {
		out[i] = team(i + 1)
	}
	return out
}

func TestRandomSelections(t *testing.T) {
	t.Parallel()
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 1))
		rules := selection.Rules{Alliances: 1 + rng.IntN(8), Picks: rng.IntN(4), Backups: rng.IntN(3)}
		start := board(t, rules, numbers(rules.Alliances+rng.IntN(30)))
		b := start.Clone()
		log := play(t, rng, b, 120)

		// The log alone gives the board, in any order, with repetitions.
		shuffled := slices.Concat(log, log[:len(log)/2])
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		again, refused := selection.Replay(start, shuffled)
		if d := cmp.Diff(b.Alliances(), again.Alliances()); d != "" || len(refused) > 0 {
			t.Errorf("seed %d: replayed: %s, refused %v", seed, d, refused)
		}

		// Undo to any point is the board as it was then.
		keep := rng.IntN(len(log) + 1)
		undone := slices.Clone(log)
		for _, id := range selection.Undo(log, keep) {
			for k := range undone {
				if undone[k].ID == id {
					undone[k].Removed = true
				}
			}
		}
		short, _ := selection.Replay(start, log[:keep])
		back, refused := selection.Replay(start, undone)
		if d := cmp.Diff(short.Alliances(), back.Alliances()); d != "" || len(refused) > 0 {
			t.Errorf("seed %d: undone to %d: %s, refused %v", seed, keep, d, refused)
		}
	}
}

// TestTwoDevices writes one selection down on two devices, the second of which
// goes on alone and misses some of it.
func TestTwoDevices(t *testing.T) {
	t.Parallel()
	start := board(t, selection.Rules{Alliances: 4, Picks: 2}, numbers(20))
	move := func(captain, invites, round int, a selection.Answer) selection.Move {
		return selection.Move{Captain: team(captain), Invites: team(invites), Answer: a, Round: round}
	}
	shared := []selection.Entry{entry(1, 1, move(1, 5, 1, selection.Accepts))}
	both := []selection.Move{
		move(2, 3, 1, selection.Accepts), move(4, 6, 1, selection.Declines), move(4, 9, 1, selection.Accepts), move(6, 10, 1, selection.Accepts),
		move(6, 11, 2, selection.Accepts), move(4, 12, 2, selection.Accepts),
	}
	one, two := slices.Clone(shared), slices.Clone(shared)
	for k, m := range both {
		one = append(one, entry(byte(10+k), selection.NextStep(one), m))
		if k != 1 { // the decline was not seen
			two = append(two, entry(byte(30+k), selection.NextStep(two), m))
		}
	}
	want, refused := selection.Replay(start, one)
	if len(refused) > 0 {
		t.Fatal(refused)
	}
	for _, merged := range [][]selection.Entry{slices.Concat(one, two), slices.Concat(two, one)} {
		got, refused := selection.Replay(start, merged)
		if d := cmp.Diff(want.Alliances(), got.Alliances()); d != "" {
			t.Errorf("merged: %s", d)
		}
		if len(refused) != len(both)-1 {
			t.Errorf("%d refused, want the %d repeats: %v", len(refused), len(both)-1, refused)
		}
		for _, r := range refused {
			if !r.Repeats {
				t.Errorf("%+v is no repeat: %s", r.Move(), r.Rule)
			}
		}
	}

	// Each device says something else: the first in order counts, the other is shown.
	conflict := slices.Concat(shared, []selection.Entry{entry(50, 2, move(2, 3, 1, selection.Accepts)), entry(40, 2, move(2, 9, 1, selection.Accepts))})
	got, refused := selection.Replay(start, conflict)
	if got.AllianceOf("9") != 2 || len(refused) != 1 || refused[0].Invites != "3" || refused[0].Repeats || refused[0].Rule == "" {
		t.Errorf("conflict: alliances %+v, refused %+v", got.Alliances(), refused)
	}
	// In round 2 captain 2 is on the clock again: the refused move of round 1 stays refused.
	for k, m := range []selection.Move{move(3, 10, 1, selection.Accepts), move(4, 11, 1, selection.Accepts), move(4, 12, 2, selection.Accepts), move(3, 13, 2, selection.Accepts)} {
		conflict = append(conflict, entry(byte(60+k), 3+k, m))
	}
	got, refused = selection.Replay(start, conflict)
	if turn, _ := got.Turn(); turn.Captain != "2" || turn.Round != 2 || len(refused) != 1 {
		t.Errorf("after the conflict: turn %+v, refused %+v", turn, refused)
	}
}

// TestMergeDependsOnTheSet replays two random branches in random orders.
func TestMergeDependsOnTheSet(t *testing.T) {
	t.Parallel()
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 2))
		start := board(t, selection.Rules{Alliances: 4, Picks: 2, Backups: 1}, numbers(16))
		var log []selection.Entry
		for device := range byte(2) {
			b := start.Clone()
			for k, e := range play(t, rng, b, 25) {
				e.ID[0], e.ID[1] = byte(k), device
				log = append(log, e)
			}
		}
		first, lost := selection.Replay(start, log)
		check(t, first)
		for range 3 {
			rng.Shuffle(len(log), func(i, j int) { log[i], log[j] = log[j], log[i] })
			again, refused := selection.Replay(start, log)
			if d := cmp.Diff(first.Alliances(), again.Alliances()); d != "" {
				t.Fatalf("seed %d: %s", seed, d)
			}
			if d := cmp.Diff(lost, refused); d != "" {
				t.Fatalf("seed %d: refused %s", seed, d)
			}
		}
	}
}

func FuzzMoves(f *testing.F) {
	f.Add([]byte{0, 0, 1, 0, 1, 2, 1, 3, 9, 9, 0, 0})
	f.Add([]byte{3, 2, 0, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) < 2 || len(data) > 400 {
			return
		}
		start := board(t, selection.Rules{Alliances: 1 + int(data[0]%5), Picks: int(data[1] % 4), Backups: 1}, numbers(12))
		b := start.Clone()
		answers := []selection.Answer{selection.Accepts, selection.Declines, selection.NoShow, selection.NobodyLeft, ""}
		var log []selection.Entry
		for k := 2; k+2 < len(data); k += 3 {
			m := selection.Move{Captain: team(int(data[k] % 14)), Invites: team(int(data[k+1] % 14)), Answer: answers[data[k+2]%5], Backup: data[k+2]&64 != 0}
			if turn, on := b.Turn(); on && data[k+2]&128 != 0 {
				m.Captain = turn.Captain
			}
			if m.Invites == "0" {
				m.Invites = ""
			}
			if b.Move(m) == nil {
				log = append(log, entry(byte(k), selection.NextStep(log), m))
			}
			check(t, b)
		}
		again, refused := selection.Replay(start, log)
		if d := cmp.Diff(b.Alliances(), again.Alliances()); d != "" && len(refused) == 0 {
			t.Error(d)
		}
	})
}
