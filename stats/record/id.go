package record

import (
	"fmt"

	"github.com/google/uuid"
)

// The ids below follow RFC 9562, section 5.5 (UUIDv5: SHA-1 of a namespace and
// a name), so that every device that speaks of the same thing speaks of the
// same record, without having met. Lists, notes, marks, questions, trainings, agreements and rehearsals have a UUIDv7 of
// their own instead: two people may well mean two different ones.

// ObservationID is the record of what one scout saw of one robot in one play
// of a match: UUIDv5(event, "observation/Q12/1/40117/s03"). A play below 1 is
// read as 1.
func ObservationID(event uuid.UUID, match MatchID, play int, team TeamID, scout string) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "observation/%s/%d/%s/%s", match, max(play, 1), team, scout))
}

// ResultID is the record of an alliance's official result:
// UUIDv5(event, "result/Q12/1/red"). A play below 1 is read as 1.
func ResultID(event uuid.UUID, match MatchID, play int, side Colour) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "result/%s/%d/%s", match, max(play, 1), side))
}

// JudgementID is the record of one scout's answer to a question about all robots
// of a match: UUIDv5(event, "judgement/Q12/1/driving/s03"). A play below 1 is
// read as 1.
func JudgementID(event uuid.UUID, match MatchID, play int, question, scout string) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "judgement/%s/%d/%s/%s", match, max(play, 1), question, scout))
}

// PlayoffID is the record of what happened around a playoff match beside its
// result: UUIDv5(event, "playoff/P3").
func PlayoffID(event uuid.UUID, match MatchID) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "playoff/%s", match))
}

// RotaID is the record of an event's rota: UUIDv5(event, "rota").
func RotaID(event uuid.UUID) uuid.UUID { return uuid.NewSHA1(event, []byte("rota")) }

// SeatID is the record of whom one scout watches in a match:
// UUIDv5(event, "seat/Q12/s03").
func SeatID(event uuid.UUID, match MatchID, scout string) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "seat/%s/%s", match, scout))
}

// DebriefID is the record of what is said after a play of a match, about the
// match or about one robot: UUIDv5(event, "debrief/Q12/1") or
// UUIDv5(event, "debrief/Q12/1/40117"). A play below 1 is read as 1.
func DebriefID(event uuid.UUID, match MatchID, play int, team TeamID) uuid.UUID {
	name := fmt.Sprintf("debrief/%s/%d", match, max(play, 1))
	if team != "" {
		name += "/" + string(team)
	}
	return uuid.NewSHA1(event, []byte(name))
}

// SketchID is the record of where a robot stands on a drawing, some seconds
// into a match: UUIDv5(event, "sketch/Q12/20/40117"). Strokes and words have a
// random id.
func SketchID(event uuid.UUID, match MatchID, second int, team TeamID) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "sketch/%s/%d/%s", match, second, team))
}

// PinID is the record of what was heard of a captain and a team:
// UUIDv5(event, "pin/40101/40117").
func PinID(event uuid.UUID, captain, team TeamID) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "pin/%s/%s", captain, team))
}

// PitID is the record of what one visitor found at a robot's pit:
// UUIDv5(event, "pit/40117/s03").
func PitID(event uuid.UUID, team TeamID, scout string) uuid.UUID {
	return uuid.NewSHA1(event, fmt.Appendf(nil, "pit/%s/%s", team, scout))
}

// EntryID is the record of a team's place on a pick list: UUIDv5(list, "40117").
func EntryID(list uuid.UUID, team TeamID) uuid.UUID {
	return uuid.NewSHA1(list, []byte(team))
}

// ImportID is the revision that a row of a file becomes: the same content for
// the same record is the same revision, so importing a file twice adds nothing.
// Body is the record's JSON as it will be stored.
func ImportID(recordID uuid.UUID, body []byte) uuid.UUID {
	return uuid.NewSHA1(recordID, append([]byte("import/"), body...))
}
