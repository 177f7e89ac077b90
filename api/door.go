package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
)

// maxLamport bounds what a device may claim, far above the number of
// revisions of any event: whoever claims more could never be overruled.
const maxLamport = 1_000_000_000

// door checks revisions of one request before they are stored. An item that
// is refused never takes another with it.
type door struct {
	store  *store.DB
	viewer viewer
	game   *game.Game
	device string
	// records are those that were looked up, nil for one that does not exist;
	// begun are the records whose first revision was let in by this request.
	records map[uuid.UUID]*store.Record
	begun   map[uuid.UUID]bool
	makers  map[maker]uuid.UUID // of those that others bring in: who that is here
}

// made is who made a revision, and by which door it comes.
type made struct {
	maker
	member uuid.UUID
	via    string
}

func newDoor(db *store.DB, v viewer, g *game.Game, device string) *door {
	return &door{store: db, viewer: v, game: g, device: device, records: map[uuid.UUID]*store.Record{}, begun: map[uuid.UUID]bool{}, makers: map[maker]uuid.UUID{}}
}

// check returns the revisions that may be stored, and one outcome an item: of
// those that may be stored it is open.
func (d *door) check(ctx context.Context, items []json.RawMessage) ([]store.Incoming, []outcome, error) {
	outcomes := make([]outcome, len(items))
	incoming := make([]store.Incoming, 0, len(items))
	for i, raw := range items {
		rev, by, err := d.one(ctx, raw)
		if rev.RevisionID != uuid.Nil {
			outcomes[i].RevisionID = rev.RevisionID.String()
		}
		var p *problem
		switch {
		case errors.As(err, &p):
			outcomes[i].Outcome, outcomes[i].Problem = string(store.Refused), p
		case err != nil:
			return nil, nil, err
		default:
			incoming = append(incoming, store.Incoming{Revision: rev, MemberID: by.member, Via: by.via})
		}
	}
	return incoming, outcomes, nil
}

// one checks a single item. A *problem refuses it; any other error is ours.
func (d *door) one(ctx context.Context, raw json.RawMessage) (record.Revision, made, error) {
	var sent sentRevision
	// Whatever else is wrong, the device must find its item in the answer.
	var named struct {
		RevisionID uuid.UUID `json:"revision_id"`
	}
	_ = json.Unmarshal(raw, &named)
	rev := record.Revision{RevisionID: named.RevisionID}
	if err := strictJSON(raw, &sent); err != nil {
		return rev, made{}, err
	}
	by, err := d.who(ctx, sent.From)
	if err != nil {
		return rev, made{}, err
	}
	if !auth.MayWrite(sent.Kind, auth.Role(by.Role)) {
		return rev, made{}, notAllowed.because(fmt.Sprintf("As %s you may not write a record of kind %q. Ask the lead.", by.Role, sent.Kind))
	}
	if err := checkEnvelope(sent); err != nil {
		return rev, made{}, err
	}
	if problems := record.CheckBody(d.game, sent.Kind, sent.Body); len(problems) > 0 {
		return rev, made{}, bodyProblem(problems)
	}
	if err := d.identity(ctx, sent); err != nil {
		return rev, made{}, err
	}
	if len(sent.Parents) == 0 {
		d.begun[sent.RecordID] = true
	}
	return record.Revision{
		RevisionID: sent.RevisionID, RecordID: sent.RecordID, Parents: some(sent.Parents), Kind: sent.Kind, Lamport: sent.Lamport,
		Author: by.Author, Role: record.Role(by.Role), DeviceID: by.DeviceID, MadeAt: sent.MadeAt, Body: sent.Body,
	}, by, nil
}

// who says who made an item: whoever sends it, unless a lead brings in what
// somebody else made on a device that cannot send it any more.
func (d *door) who(ctx context.Context, from *maker) (made, error) {
	v := d.viewer
	if from == nil {
		return made{maker{v.nickname, string(v.role), d.device}, v.memberID, "sync"}, nil
	}
	if !v.is(auth.Lead) {
		return made{}, notAllowed.because("This record was not taken: only a lead accepts what somebody else has made.",
			problemItem{Pointer: "/from", Message: "for a lead only"})
	}
	for _, text := range []struct {
		pointer string
		err     error
	}{
		{"/from/author", record.CheckScout(from.Author)},
		{"/from/device_id", record.CheckText(from.DeviceID, maxDevice)},
	} {
		if text.err != nil {
			return made{}, invalid.because("This record was not taken. "+text.pointer+": "+text.err.Error(), problemItem{Pointer: text.pointer, Message: text.err.Error()})
		}
	}
	if !slices.Contains([]auth.Role{auth.Lead, auth.Coach, auth.Scout}, auth.Role(from.Role)) {
		return made{}, invalid.because("This record was not taken. /from/role: no such role", problemItem{Pointer: "/from/role", Message: "no such role"})
	}
	member, ok := d.makers[*from]
	if !ok {
		var err error
		if member, err = d.store.WhoMade(ctx, v.eventID, from.Author, from.DeviceID); err != nil {
			return made{}, err
		}
		d.makers[*from] = member
	}
	return made{*from, member, store.LetInBy(v.nickname)}, nil
}

// bodyProblem gives problems of a body their place in the item.
func bodyProblem(problems []game.Problem) *problem {
	items := jsonItems(problems)
	for i := range items {
		items[i].Pointer, items[i].File, items[i].Line = "/body"+items[i].Pointer, "", 0
	}
	return invalid.because("This record was not taken. "+items[0].text(), items...)
}

// checkEnvelope checks what every revision has, whatever its kind.
func checkEnvelope(r sentRevision) error {
	var items []problemItem
	refuse := func(pointer, message string) {
		items = append(items, problemItem{Pointer: pointer, Message: message})
	}
	if r.RevisionID.Version() != 7 {
		refuse("/revision_id", "a UUID of version 7 is needed")
	}
	if r.RecordID == uuid.Nil {
		refuse("/record_id", "the record is not named")
	}
	if r.Lamport < 1 || r.Lamport > maxLamport {
		refuse("/lamport", fmt.Sprintf("a whole number from 1 to %d is needed", maxLamport))
	}
	if r.MadeAt.IsZero() {
		refuse("/made_at", "the time is missing")
	}
	if len(r.Parents) > maxItems {
		refuse("/parents", "too many parents")
	}
	if len(items) == 0 {
		return nil
	}
	return invalid.because("This record was not taken. "+items[0].text(), items...)
}

// identity checks that a revision belongs to the record that it names. The
// first revision of a record fixes its id (see package record), so that one
// thing is one record; a later one may say something else, as when two robots
// were mixed up. A scout writes in no other's name and into no other's record.
func (d *door) identity(ctx context.Context, sent sentRevision) error {
	var names struct {
		Match    record.MatchID `json:"match"`
		Play     int            `json:"play"`
		Team     record.TeamID  `json:"team"`
		Scout    string         `json:"scout"`
		Alliance record.Colour  `json:"alliance"`
		List     uuid.UUID      `json:"list"`
		Question string         `json:"question"`
		Second   int            `json:"second"`
		Captain  record.TeamID  `json:"captain"`
	}
	switch sent.Kind {
	case record.KindList, record.KindNote, record.KindMark, record.KindSelection, record.KindQuestion, record.KindAgreement, record.KindRehearsal:
		return nil // they have a random id of their own
	}
	if err := json.Unmarshal(sent.Body, &names); err != nil {
		return invalid.because("This record was not taken: its body names no match, team or list.", problemItem{Pointer: "/body", Message: err.Error()})
	}
	own := sent.RecordID
	switch sent.Kind {
	case record.KindObservation:
		own = record.ObservationID(d.viewer.eventID, names.Match, names.Play, names.Team, names.Scout)
	case record.KindResult:
		own = record.ResultID(d.viewer.eventID, names.Match, names.Play, names.Alliance)
	case record.KindEntry:
		own = record.EntryID(names.List, names.Team)
	case record.KindPit:
		own = record.PitID(d.viewer.eventID, names.Team, names.Scout)
	case record.KindRota:
		own = record.RotaID(d.viewer.eventID)
	case record.KindSeat:
		own = record.SeatID(d.viewer.eventID, names.Match, names.Scout)
	case record.KindPin:
		own = record.PinID(d.viewer.eventID, names.Captain, names.Team)
	case record.KindPlayoff:
		own = record.PlayoffID(d.viewer.eventID, names.Match)
	case record.KindJudgement:
		own = record.JudgementID(d.viewer.eventID, names.Match, names.Play, names.Question, names.Scout)
	case record.KindDebrief:
		own = record.DebriefID(d.viewer.eventID, names.Match, names.Play, names.Team)
	case record.KindSketch:
		if names.Team != "" { // a stroke or a word has a random id
			own = record.SketchID(d.viewer.eventID, names.Match, names.Second, names.Team)
		}
	}
	if d.viewer.is(auth.Scout) {
		return d.scoutsOwn(ctx, sent, names.Scout, own)
	}
	if sent.RecordID == own || d.begun[sent.RecordID] || len(sent.Parents) > 0 && sent.Kind != record.KindResult {
		return nil
	}
	return invalid.because("This record was not taken: its id does not follow from what it is about. Load the app again.",
		problemItem{Pointer: "/record_id", Message: "expected " + own.String()})
}

// scoutsOwn lets a scout's revision in if it is the scout's own record.
func (d *door) scoutsOwn(ctx context.Context, sent sentRevision, scout string, own uuid.UUID) error {
	before, err := d.lookUp(ctx, sent.RecordID)
	if err != nil {
		return err
	}
	name := d.viewer.nickname
	if before != nil && before.Owner == d.viewer.memberID {
		// A scout who was given another nickname still mends the old records.
		var old struct {
			Scout string `json:"scout"`
		}
		if json.Unmarshal(before.Body, &old) == nil && old.Scout == scout {
			return nil
		}
	} else if before != nil && scout == name {
		// The lead may have taken it in from this tablet's file, or it arrived
		// before the scout was taken out and joined again.
		known, err := d.known(ctx, sent)
		if known || err != nil {
			return err
		}
		return notYours()
	} else if before != nil || sent.RecordID != own && !d.begun[sent.RecordID] {
		return notYours()
	}
	if scout != name {
		return notAllowed.because(fmt.Sprintf("This record was not taken: it was made by %q, and you are %q here.", scout, name),
			problemItem{Pointer: "/body/scout", Message: "another's nickname"})
	}
	return nil
}

// notYours is the same answer whether a record is another's or does not exist.
func notYours() error {
	return notAllowed.because("This record was not taken: it is none of yours, or its first version has not arrived. Send all of its versions, or ask the lead to correct it.",
		problemItem{Pointer: "/record_id", Message: "not one of your records"})
}

// known reports whether a revision is here already; sent again it is answered
// so, and changes nothing.
func (d *door) known(ctx context.Context, sent sentRevision) (bool, error) {
	revisions, err := d.store.Revisions(ctx, d.viewer.eventID, sent.RecordID)
	return slices.ContainsFunc(revisions, func(k store.Kept) bool { return k.RevisionID == sent.RevisionID }), err
}

// lookUp reads a record once a request; nil if it does not exist.
func (d *door) lookUp(ctx context.Context, id uuid.UUID) (*store.Record, error) {
	if r, ok := d.records[id]; ok {
		return r, nil
	}
	found, err := d.store.Record(ctx, d.viewer.eventID, id)
	switch {
	case errors.Is(err, store.ErrNotFound):
		d.records[id] = nil
	case err != nil:
		return nil, err
	default:
		d.records[id] = &found
	}
	return d.records[id], nil
}
