package store

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"sextant/stats/record"
)

// Redaction says what an export that is given away leaves out.
type Redaction struct {
	// People: nicknames become s01, s02, … for those who scouted, in the order in
	// which they first did, and m01, m02, … for others; devices become d01, d02, …
	// What scouts typed freely goes, as names may stand in it. Texts of lists,
	// notes and questions stay: those go with Strategy.
	People bool
	// Strategy: what says which robots one likes, asks about or calls goes. Only
	// what was seen on the field stays: observations, results, marks, trainings.
	Strategy bool
}

// None reports whether everything is exported.
func (r Redaction) None() bool { return r == Redaction{} }

// ExportRedacted writes what ExportNDJSON does, but for what how leaves out. The
// file is an event of its own, with a new id: it can be restored beside the one
// that it was made of and never be mixed with it. All ids that follow from an
// event or a name (UUIDv5) are made anew by the same rules, as a name could be
// guessed from them; revisions get ids in the order of the old ones, so that the
// same revisions count. The audit is left out.
func (db *DB) ExportRedacted(ctx context.Context, event uuid.UUID, how Redaction, w io.Writer) (err error) {
	if how.None() {
		return db.ExportNDJSON(ctx, event, w)
	}
	defer wrap(&err, "export event %s without what it should not say", event)
	var whole bytes.Buffer
	if err := db.ExportNDJSON(ctx, event, &whole); err != nil {
		return err
	}
	f, err := readExport(&whole)
	if err != nil {
		return err
	}
	if err := f.redact(how, newID); err != nil {
		return err
	}
	return f.write(w)
}

// Pseudonyms are the names that an export without people gives to scouts.
// ErrNotFound: no such event.
func (db *DB) Pseudonyms(ctx context.Context, event uuid.UUID) (_ map[string]string, err error) {
	defer wrap(&err, "name the scouts of event %s anew", event)
	if _, err := readEvent(ctx, db.pool, event); err != nil {
		return nil, err
	}
	rows, err := db.pool.Query(ctx, `
		select body ->> 'scout'
		from revision
		where event_id = $1 and jsonb_typeof(body -> 'scout') = 'string'
		order by change_no`, event)
	if err != nil {
		return nil, err
	}
	scouts, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, err
	}
	names := pseudonyms{}
	for _, name := range scouts {
		names.add("s", name)
	}
	return names, nil
}

// pseudonyms are new names by old ones.
type pseudonyms map[string]string

// add gives a name, unless it has one, the next of a letter.
func (p pseudonyms) add(letter, name string) {
	if _, ok := p[name]; ok || name == "" {
		return
	}
	n := 1
	for _, given := range p {
		if given[:1] == letter {
			n++
		}
	}
	p[name] = fmt.Sprintf("%s%02d", letter, n)
}

// of is the new name of an old one, which must have one.
func (p pseudonyms) of(name string) string { return p[name] }

// redact takes out what how says, and makes the file an event of its own.
func (f *exportFile) redact(how Redaction, id func() uuid.UUID) error {
	names, devices := f.rename()
	before := f.head.EventID
	f.head.EventID = id()
	f.audit = nil // its details name people and lists
	f.blobs = nil // photos of pits show people, and what somebody claims
	if how.Strategy {
		f.event.Prior = nil
		f.event.Prior = nil
		f.revisions = slices.DeleteFunc(f.revisions, func(r revisionLine) bool { return isStrategy(r.Kind) })
	}
	g, err := loadGame(json.RawMessage(f.game.Text), f.event.Overrides)
	if err != nil {
		return err
	}
	texts := map[string]bool{} // questions that are answered freely
	for _, q := range g.Questions {
		texts[q.ID] = q.Kind == "text"
	}
	ids := reborn{before, f.head.EventID, names, map[uuid.UUID]uuid.UUID{}}
	if !how.People {
		ids.names = nil
	}
	for i := range f.revisions { // bodies as they were: ids follow from them
		if err := ids.learn(&f.revisions[i]); err != nil {
			return err
		}
	}
	revisions := f.reborn(id)
	for i := range f.revisions {
		r := &f.revisions[i]
		r.RevisionID = revisions[r.RevisionID]
		for j, parent := range r.Parents {
			r.Parents[j] = revisions[parent]
		}
		r.RecordID = ids.of(r.RecordID, id)
		if how.People {
			r.Author, r.DeviceID = names.of(r.Author), devices.of(r.DeviceID)
		}
		if r.Body, err = how.body(r.Kind, r.Body, names, texts); err != nil {
			return err
		}
	}
	if how.People {
		for i := range f.members {
			m := &f.members[i]
			m.Nickname, m.DeviceID = names.of(m.Nickname), devices.of(m.DeviceID)
		}
	}
	return nil
}

// isStrategy reports whether a kind says more than what was seen. One that is
// new does until somebody decides otherwise.
func isStrategy(kind string) bool {
	switch kind {
	case record.KindObservation, record.KindResult, record.KindMark, record.KindTraining:
		return false
	}
	return true
}

// people are the members of a body that name somebody.
type people struct {
	Scout string `json:"scout"`
	Owner string `json:"owner"`
	// People are those of a rota, each an object with the member scout.
	People []map[string]json.RawMessage `json:"people"`
}

// scoutOf is the nickname of one of People.
func scoutOf(person map[string]json.RawMessage) (name string) {
	if json.Unmarshal(person["scout"], &name) != nil {
		return ""
	}
	return name
}

// named are the people of a body; nobody if it is of another form.
func named(body json.RawMessage) people {
	var p people
	if json.Unmarshal(body, &p) != nil {
		return people{}
	}
	return p
}

// rename gives everybody and each device a new name.
func (f *exportFile) rename() (names, devices pseudonyms) {
	names, devices = pseudonyms{}, pseudonyms{}
	for _, r := range f.revisions {
		names.add("s", named(r.Body).Scout)
	}
	for _, r := range f.revisions {
		names.add("m", r.Author)
		who := named(r.Body)
		names.add("m", who.Owner)
		for _, p := range who.People {
			names.add("m", scoutOf(p)) // who never watched anything
		}
		devices.add("d", r.DeviceID)
	}
	for _, m := range f.members {
		names.add("m", m.Nickname)
		devices.add("d", m.DeviceID)
	}
	return names, devices
}

// reborn are new ids of revisions, by the old ones and in their order: which of
// two revisions counts may hang on that. A parent that is not here has one too.
func (f *exportFile) reborn(id func() uuid.UUID) map[uuid.UUID]uuid.UUID {
	var all []uuid.UUID
	for _, r := range f.revisions {
		all = append(append(all, r.RevisionID), r.Parents...)
	}
	slices.SortFunc(all, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	out := map[uuid.UUID]uuid.UUID{}
	for _, old := range slices.Compact(all) {
		out[old] = id()
	}
	return out
}

// reborn makes ids of records that follow from the event and a name.
type reborn struct {
	before, now uuid.UUID // the event
	names       pseudonyms
	known       map[uuid.UUID]uuid.UUID
}

// learn finds out whether a record's id was made for what a revision says. A
// record that was moved keeps the id of what it said first.
func (b *reborn) learn(r *revisionLine) (err error) {
	name := func(scout string) string {
		if b.names == nil {
			return scout
		}
		return b.names.of(scout)
	}
	var was, is uuid.UUID
	switch r.Kind {
	case record.KindObservation:
		var o record.Observation
		err = json.Unmarshal(r.Body, &o)
		was = record.ObservationID(b.before, o.Match, o.Play, o.Team, o.Scout)
		is = record.ObservationID(b.now, o.Match, o.Play, o.Team, name(o.Scout))
	case record.KindResult:
		var o record.ResultBody
		err = json.Unmarshal(r.Body, &o)
		was = record.ResultID(b.before, o.Match, o.Play, o.Alliance)
		is = record.ResultID(b.now, o.Match, o.Play, o.Alliance)
	case record.KindJudgement:
		var o record.Judgement
		err = json.Unmarshal(r.Body, &o)
		was = record.JudgementID(b.before, o.Match, o.Play, o.Question, o.Scout)
		is = record.JudgementID(b.now, o.Match, o.Play, o.Question, name(o.Scout))
	case record.KindPit:
		var o record.PitBody
		err = json.Unmarshal(r.Body, &o)
		was = record.PitID(b.before, o.Team, o.Scout)
		is = record.PitID(b.now, o.Team, name(o.Scout))
	case record.KindRota:
		was, is = record.RotaID(b.before), record.RotaID(b.now)
	case record.KindSeat:
		var o record.SeatBody
		err = json.Unmarshal(r.Body, &o)
		was = record.SeatID(b.before, o.Match, o.Scout)
		is = record.SeatID(b.now, o.Match, name(o.Scout))
	case record.KindDebrief:
		var o record.DebriefBody
		err = json.Unmarshal(r.Body, &o)
		was, is = record.DebriefID(b.before, o.Match, o.Play, o.Team), record.DebriefID(b.now, o.Match, o.Play, o.Team)
	case record.KindSketch:
		var o record.SketchBody
		err = json.Unmarshal(r.Body, &o)
		was, is = record.SketchID(b.before, o.Match, o.Second, o.Team), record.SketchID(b.now, o.Match, o.Second, o.Team)
	case record.KindPlayoff:
		var o record.PlayoffBody
		err = json.Unmarshal(r.Body, &o)
		was, is = record.PlayoffID(b.before, o.Match), record.PlayoffID(b.now, o.Match)
	case record.KindPin:
		var o record.PinBody
		err = json.Unmarshal(r.Body, &o)
		was, is = record.PinID(b.before, o.Captain, o.Team), record.PinID(b.now, o.Captain, o.Team)
	case record.KindMark:
		var o record.Mark
		err = json.Unmarshal(r.Body, &o)
		was, is = markID(b.before, &o), markID(b.now, &o)
	default:
		is = r.RecordID // it says nothing of the event, and others name it
	}
	if err != nil {
		return fmt.Errorf("revision %s: %w", r.RevisionID, err)
	}
	if was == r.RecordID || was == uuid.Nil {
		b.known[r.RecordID] = is
	}
	return nil
}

// of is the new id of a record. One that was made of nothing that can be made
// again gets any.
func (b *reborn) of(old uuid.UUID, id func() uuid.UUID) uuid.UUID {
	if _, ok := b.known[old]; !ok {
		b.known[old] = id()
	}
	return b.known[old]
}

// body is what is left of the body of a record.
func (r Redaction) body(kind string, body json.RawMessage, names pseudonyms, texts map[string]bool) (json.RawMessage, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(body, &members); err != nil {
		return nil, err
	}
	if kind == record.KindPit {
		delete(members, "photos") // they are not in the file
	}
	seen := !isStrategy(kind)
	if seen {
		if r.People {
			delete(members, "note")
			delete(members, "reason")
		}
		delete(members, "answers_to") // free text, and the questions are plans
	}
	if !r.People {
		return encode(members)
	}
	if kind == record.KindQuestion {
		delete(members, "record") // its id follows from a name
	}
	who := named(body)
	for member, name := range map[string]string{"scout": who.Scout, "owner": who.Owner} {
		if name == "" {
			continue
		}
		var err error
		if members[member], err = encode(names.of(name)); err != nil {
			return nil, err
		}
	}
	for _, p := range who.People {
		var err error
		if p["scout"], err = encode(names.of(scoutOf(p))); err != nil {
			return nil, err
		}
	}
	if len(who.People) > 0 {
		var err error
		if members["people"], err = encode(who.People); err != nil {
			return nil, err
		}
	}
	if answers := members["answers"]; seen && answers != nil {
		var given map[string]json.RawMessage
		if err := json.Unmarshal(answers, &given); err != nil {
			return nil, err
		}
		for question := range given {
			if texts[question] {
				delete(given, question)
			}
		}
		var err error
		if members["answers"], err = encode(given); err != nil {
			return nil, err
		}
	}
	return encode(members)
}

// write writes the file as ExportNDJSON does.
func (f *exportFile) write(w io.Writer) error {
	out := newLineWriter(w)
	out.write(f.head)
	out.write(f.game)
	out.write(f.event)
	for _, t := range f.teams {
		out.write(teamLine{Type: "team", Team: t})
	}
	for _, m := range f.matches {
		out.write(lineOf(m))
	}
	for _, m := range f.members {
		out.write(m)
	}
	for _, r := range f.revisions {
		out.write(r)
	}
	for _, b := range f.blobs {
		out.write(b)
	}
	for _, c := range f.changes {
		out.write(c)
	}
	out.write(endLine{Type: "end", Lines: out.lines + 1})
	return out.flush()
}
