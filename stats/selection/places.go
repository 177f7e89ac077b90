package selection

// The methods of this file play a selection on by places in the ranking, from
// 0, without words and without allocating. They do not check the rules: call
// MayInvite first.

// Restore makes b what from is, in the memory that b has. Both stem from one New.
func (b *Board) Restore(from *Board) {
	b.turn = from.turn
	copy(b.joined, from.joined)
	copy(b.bars, from.bars)
	copy(b.called, from.called)
	for a, m := range from.members {
		b.members[a] = append(b.members[a][:0], m...)
	}
}

// Now is the alliance that is on the clock, from 0, and the place of its
// captain; −1, −1: all picks are made.
func (b *Board) Now() (alliance, captain int) {
	t, c := b.now()
	if c < 0 {
		return -1, -1
	}
	b.turn = t
	return b.order[t], c
}

// MayInvite reports whether the captain on the clock may invite place i.
func (b *Board) MayInvite(captain, i int) bool {
	return i != captain && b.joined[i] < 0 && b.bars[i] == 0
}

// LastCaptain is the place of the lowest captain as the board stands; free
// places above it are captains that have not chosen.
func (b *Board) LastCaptain() int {
	for a := len(b.members) - 1; a >= 0; a-- {
		if c := b.captain(a); c >= 0 {
			return c
		}
	}
	return -1
}

// Free reports whether place i may still be taken, or become a captain.
func (b *Board) Free(i int) bool { return b.free(i) }

// Joined is the alliance of place i, from 0; −1: none yet.
func (b *Board) Joined(i int) int { return int(b.joined[i]) }

// Take lets place i accept the invitation of who is on the clock, as Now says.
func (b *Board) Take(captain, i int) {
	b.settle(b.turn, captain)
	b.join(b.order[b.turn], i)
	b.turn++
}

// Refuse lets place i decline.
func (b *Board) Refuse(i int) { b.bars[i] |= declined }

// Short leaves the alliance on the clock, as Now says, without a pick.
func (b *Board) Short(captain int) {
	b.settle(b.turn, captain)
	b.turn++
}

// Members are the places of an alliance, from 0, the captain first. The slice
// is the board's own. Empty: the captain has not chosen.
func (b *Board) Members(alliance int) []int { return b.members[alliance] }

// Captain is the place of the captain of an alliance, from 0; −1: none.
func (b *Board) Captain(alliance int) int { return b.captain(alliance) }

// PicksLeft is how many picks come before an alliance, from 0, chooses next.
func (b *Board) PicksLeft(alliance int) int {
	for t := b.turn; t < len(b.order); t++ {
		if b.order[t] == alliance {
			return t - b.turn
		}
	}
	return len(b.order) - b.turn
}

// PickNumber is the pick, from 1 through all rounds, at which an alliance, from
// 0, chooses for the k-th time from now on; 0: it does not.
func (b *Board) PickNumber(alliance, k int) int {
	for t := b.turn; t < len(b.order); t++ {
		if b.order[t] == alliance {
			if k--; k == 0 {
				return t + 1
			}
		}
	}
	return 0
}
