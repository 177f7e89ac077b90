package selection

import "fmt"

// Move makes a move. The error is a *Refusal: the move is against the rules
// and changed nothing.
func (b *Board) Move(m Move) error {
	rule := ""
	if t, c := b.now(); m.Backup {
		rule = b.backup(m, c >= 0)
	} else {
		rule = b.choose(m, t, c)
	}
	if rule != "" {
		return &Refusal{Move: m, Rule: rule}
	}
	return nil
}

// choose is a move of the rounds; c is who is on the clock in turn t. It
// returns the rule that forbids it.
func (b *Board) choose(m Move, t, c int) string {
	switch {
	case c < 0:
		return "all picks are made"
	case m.Captain != b.ranking[c]:
		return fmt.Sprintf("not on the clock: it is the turn of %s, captain of alliance %d", b.ranking[c], b.order[t]+1)
	case m.Round != 0 && m.Round != t/b.rules.Alliances+1:
		return fmt.Sprintf("made for round %d: the board is in round %d", m.Round, t/b.rules.Alliances+1)
	case m.Answer == NobodyLeft && m.Invites != "":
		return "nobody is invited when nobody is left"
	case m.Answer == NobodyLeft:
		if pool := b.Pool(); len(pool) > 0 {
			return fmt.Sprintf("%s may still be invited: an alliance stays short only when nobody is left", pool[0])
		}
		b.settle(t, c)
		b.turn = t + 1
		return ""
	case m.Answer == NoShow && m.Invites == "":
		if b.joined[c] >= 0 {
			return "captain of an alliance that has already chosen"
		}
		b.bars[c] |= gone
		return ""
	case m.Invites == "":
		return "nobody is invited: name the team"
	}
	if rule := b.WhyNot(m.Invites); rule != "" {
		return rule
	}
	i := b.place[m.Invites]
	switch m.Answer {
	case Accepts:
		b.settle(t, c)
		b.join(b.order[t], i)
		b.turn = t + 1
	case Declines:
		b.bars[i] |= declined
	case NoShow:
		b.bars[i] |= gone
	default:
		return fmt.Sprintf("%q is no answer: write %s, %s, %s or %s", m.Answer, Accepts, Declines, NoShow, NobodyLeft)
	}
	return ""
}

// settle makes a captain one that has chosen.
func (b *Board) settle(turn, captain int) {
	if a := b.order[turn]; len(b.members[a]) == 0 {
		b.join(a, captain)
	}
}

func (b *Board) join(alliance, i int) {
	b.joined[i] = int8(alliance)
	b.members[alliance] = append(b.members[alliance], i)
}

// backup is a call after the rounds.
func (b *Board) backup(m Move, choosing bool) string {
	i, known := b.place[m.Captain]
	switch {
	case choosing:
		return "backups are called when all picks are made"
	case b.rules.Backups == 0:
		return "this game has no backups"
	case !known || b.joined[i] < 0 || b.members[b.joined[i]][0] != i:
		return "only the captain of an alliance calls a backup"
	case b.called[b.joined[i]] >= b.rules.Backups:
		return fmt.Sprintf("alliance %d has called its backups", b.joined[i]+1)
	}
	if rule := b.WhyNot(m.Invites); rule != "" {
		return rule
	}
	if first := b.Pool()[0]; m.Invites != first {
		return fmt.Sprintf("backups are called in order of rank: %s is next", first)
	}
	called, alliance := b.place[m.Invites], b.joined[i]
	switch m.Answer {
	case Accepts:
		b.join(int(alliance), called)
		b.called[alliance]++
	case Declines:
		b.bars[called] |= declined
	case NoShow:
		b.bars[called] |= gone
	default:
		return fmt.Sprintf("%q is no answer to a backup's call: write %s, %s or %s", m.Answer, Accepts, Declines, NoShow)
	}
	return ""
}
