package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"github.com/google/uuid"

	"sextant/stats/contrib"
	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
	"sextant/store"
)

// The invented event of the demo.
const (
	demoName    = "Saltmarsh Invitational (invented)"
	demoOurTeam = record.TeamID("40117")
	demoPast    = 2.0 / 3 // share of the schedule that is played when it begins
	demoSetting = "demo"  // the setting that remembers it; see demoState
	demoLead    = "Demo lead"
	demoDoor    = "demo"
)

// demoSize is how large the event is.
type demoSize struct{ teams, matches int } // matches of each team

var demoWhole = demoSize{teams: 48, matches: 12}

// demoScouts are nicknames; they are birds of a salt marsh.
var demoScouts = []string{
	"Avocet", "Bittern", "Curlew", "Dunlin", "Egret", "Fulmar",
	"Godwit", "Harrier", "Knot", "Lapwing", "Plover", "Wren",
}

// errDemoOver: there is nothing left to play.
var errDemoOver = errors.New("every match is played")

// demoState is what a data folder remembers of its demo: with it the same
// world is made again.
type demoState struct {
	Event uuid.UUID `json:"event"`
	Seed  uint64    `json:"seed"`
	Start time.Time `json:"start"` // of the first match
}

// demoEvent is the demo's event in a database, and the world that it shows.
type demoEvent struct {
	db     *store.DB
	world  *generate.World
	id     uuid.UUID
	lead   store.By
	scouts map[string]store.By
}

// openDemo makes the demo's event, or finds the one that is there and goes on
// with it. A start that was interrupted is taken up where it stopped.
func openDemo(ctx context.Context, db *store.DB, size demoSize, seed uint64, now time.Time) (*demoEvent, error) {
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		return nil, err
	}
	state, err := demoStateOf(ctx, db, g, size, seed, now)
	if err != nil {
		return nil, err
	}
	d := &demoEvent{db: db, id: state.Event, scouts: map[string]store.By{}}
	if d.world, err = demoWorld(g, size, seed, state.Start); err != nil {
		return nil, err
	}
	if err := d.people(ctx); err != nil {
		return nil, err
	}
	if _, err := db.ReplaceTeams(ctx, d.id, d.world.Teams(), store.Replace{}); err != nil {
		return nil, err
	}
	planned, _, err := db.Schedule(ctx, d.id)
	if err != nil {
		return nil, err
	}
	if len(planned) == 0 { // later on there may be a playoff in it
		if _, err := db.ReplaceSchedule(ctx, d.id, d.world.Schedule(), nil, store.Replace{}); err != nil {
			return nil, err
		}
	}
	past := int(demoPast * float64(d.world.Matches()))
	for {
		next, err := d.upcoming(ctx)
		if err != nil && !errors.Is(err, errDemoOver) {
			return nil, err
		}
		if err != nil || next >= past {
			return d, errors.Join(d.list(ctx), d.ask(ctx), d.place(ctx, past), d.visit(ctx), d.talk(ctx, past))
		}
		if err := d.play(ctx, next); err != nil {
			return nil, err
		}
	}
}

// demoWorld invents the competition; the same seed and start give the same.
func demoWorld(g *game.Game, size demoSize, seed uint64, start time.Time) (*generate.World, error) {
	opt := generate.Defaults()
	opt.Teams, opt.MatchesPerTeam, opt.Start = size.teams, size.matches, start
	opt.Scouts, opt.ScoutNames, opt.Timeline = len(demoScouts), demoScouts, true
	return generate.New(g, rand.New(rand.NewPCG(seed, 0)), opt)
}

// demoStateOf reads what the database remembers, or makes the event.
func demoStateOf(ctx context.Context, db *store.DB, g *game.Game, size demoSize, seed uint64, now time.Time) (demoState, error) {
	var state demoState
	text, err := db.Setting(ctx, demoSetting)
	switch {
	case err == nil:
		if err := json.Unmarshal([]byte(text), &state); err != nil {
			return state, fmt.Errorf("read the setting %s: %w", demoSetting, err)
		}
		if state.Seed != seed {
			return state, badInput(fmt.Errorf("this data folder holds the demo of seed %d, not of %d: take another folder with --data", state.Seed, seed))
		}
		return state, nil
	case !errors.Is(err, store.ErrNotFound):
		return state, err
	}
	// The next match of the schedule begins in two minutes, the others lie
	// before and after it as at a real event.
	state = demoState{Seed: seed, Start: now.UTC().Truncate(time.Minute)}
	world, err := demoWorld(g, size, seed, state.Start)
	if err != nil {
		return state, err
	}
	next := world.Schedule()[int(demoPast*float64(world.Matches()))]
	state.Start = state.Start.Add(2*time.Minute - next.StartsAt.Sub(state.Start))
	event, _, err := db.CreateEvent(ctx, store.NewEvent{
		Name: demoName, Zone: "UTC", OurTeam: demoOurTeam, GameBody: generate.Slackwater(), Nickname: demoLead,
	})
	if err != nil {
		return state, err
	}
	state.Event = event.ID
	value, err := json.Marshal(state)
	if err != nil {
		return state, err
	}
	return state, db.SetSetting(ctx, demoSetting, string(value))
}

// people makes sure that the scouts are members.
func (d *demoEvent) people(ctx context.Context) error {
	members, err := d.db.Members(ctx, d.id)
	if err != nil {
		return err
	}
	for i, name := range append([]string{demoLead}, demoScouts...) {
		at := slices.IndexFunc(members, func(m store.Member) bool { return m.Nickname == name })
		var m store.Member
		if at >= 0 {
			m = members[at]
		} else if m, err = d.db.AddMember(ctx, d.id, store.NewMember{Role: record.RoleScout, Nickname: name}); err != nil {
			return err
		}
		by := store.By{Author: name, MemberID: m.ID, Role: m.Role, DeviceID: fmt.Sprintf("demo-%d", i), Via: demoDoor}
		if i == 0 {
			d.lead = by
		} else {
			d.scouts[name] = by
		}
	}
	return nil
}

// guest is a nickname for whoever follows a link, as each belongs to one device:
// "Guest lead", and with the next start "Guest lead 2".
func (d *demoEvent) guest(ctx context.Context, role record.Role) (string, error) {
	members, err := d.db.Members(ctx, d.id)
	if err != nil {
		return "", err
	}
	for n := 1; ; n++ {
		name := fmt.Sprintf("Guest %s", role)
		if n > 1 {
			name += fmt.Sprintf(" %d", n)
		}
		if !slices.ContainsFunc(members, func(m store.Member) bool { return m.Nickname == name }) {
			return name, nil
		}
	}
}

// upcoming is the index of the first qualification match that is not played;
// errDemoOver.
func (d *demoEvent) upcoming(ctx context.Context) (int, error) {
	matches, _, err := d.db.Schedule(ctx, d.id)
	if err != nil {
		return 0, err
	}
	at := slices.IndexFunc(matches, func(m record.Match) bool { return !m.ID.Playoffs() && !m.Played() })
	if at < 0 {
		return 0, errDemoOver
	}
	return at, nil
}

// next lets the next thing happen and says what it was: a qualification match,
// then a move of the selection, then a match of the playoff. Asked: somebody
// wants it now. errOurTurn; errDemoOver.
func (d *demoEvent) next(ctx context.Context, asked bool) (string, error) {
	i, err := d.upcoming(ctx)
	if errors.Is(err, errDemoOver) {
		return d.goOn(ctx, asked)
	}
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s is played.", d.world.Schedule()[i].ID), d.play(ctx, i)
}

// play lets match i happen: each scout's record arrives as it would from a
// tablet, then the official result.
func (d *demoEvent) play(ctx context.Context, i int) error {
	m, seen := d.world.Play(i)
	sent, err := d.sent(ctx, m.ID)
	if err != nil {
		return err
	}
	if len(sent) > 0 {
		if seen, err = d.world.Watch(i, sent); err != nil {
			return err
		}
	}
	var items []store.Incoming
	add := func(more []store.Incoming, _ store.Replaced, err error) error {
		items = append(items, more...)
		return err
	}
	for _, o := range seen {
		body, err := json.Marshal(o)
		if err != nil {
			return err
		}
		draft := store.Draft{RecordID: record.ObservationID(d.id, o.Match, o.Play, o.Team, o.Scout), Kind: record.KindObservation, Body: body}
		if err := add(d.db.Revise(ctx, d.id, []store.Draft{draft}, d.scouts[o.Scout])); err != nil {
			return err
		}
	}
	judged, err := d.judged(i)
	if err != nil {
		return err
	}
	for _, draft := range judged {
		if err := add(d.db.Revise(ctx, d.id, []store.Draft{draft.Draft}, d.scouts[draft.scout])); err != nil {
			return err
		}
	}
	if err := add(d.db.ResultRevisions(ctx, d.id, []record.Match{m}, d.lead)); err != nil {
		return err
	}
	var marks []record.Mark
	for _, mark := range d.world.Marks(i + 1) {
		if mark.Match == m.ID {
			marks = append(marks, mark)
		}
	}
	if err := add(d.db.MarkRevisions(ctx, d.id, marks, d.lead)); err != nil {
		return err
	}
	return d.append(ctx, items)
}

// append stores revisions and takes a refusal for the defect that it is.
func (d *demoEvent) append(ctx context.Context, items []store.Incoming) error {
	outcomes, _, err := d.db.Append(ctx, d.id, items)
	if err != nil {
		return err
	}
	for _, o := range outcomes {
		if o.Verdict == store.Refused {
			return fmt.Errorf("a record of the demo was refused: %s", o.Reason)
		}
	}
	return nil
}

// list puts the twelve robots that look best now on a pick list, unless there
// is one already, with what a lead might have noted.
func (d *demoEvent) list(ctx context.Context) error {
	id := uuid.NewSHA1(d.id, []byte("demo list"))
	if _, err := d.db.Record(ctx, d.id, id); !errors.Is(err, store.ErrNotFound) {
		return err
	}
	ev, _, err := d.db.Load(ctx, d.id)
	if err != nil {
		return err
	}
	fit, err := contrib.Estimate(ev, contrib.Options{})
	if err != nil {
		return err
	}
	teams := fit.Record().Teams
	slices.SortStableFunc(teams, func(a, b record.TeamEstimate) int {
		if a.Now > b.Now {
			return -1
		}
		return 1
	})
	body, err := json.Marshal(record.ListBody{Name: "First picks", Purpose: "Invented, to show what a list looks like"})
	if err != nil {
		return err
	}
	drafts := []store.Draft{{RecordID: id, Kind: record.KindList, Body: body}}
	keys := "0123456789AB" // "a0", "a1", …: the first keys of fractional indexing
	for _, t := range teams {
		n := len(drafts) - 1
		if n == len(keys) {
			break
		}
		if t.Team == demoOurTeam {
			continue
		}
		tier := 1 + n/4
		entry := record.EntryBody{List: id.String(), Team: t.Team, Key: "a" + keys[n:n+1], Tier: &tier}
		if t.Stops > 0.15 {
			entry.Note = "Ask in the pit what keeps stopping it"
		}
		if body, err = json.Marshal(entry); err != nil {
			return err
		}
		drafts = append(drafts, store.Draft{RecordID: record.EntryID(id, t.Team), Kind: record.KindEntry, Body: body})
	}
	items, _, err := d.db.Revise(ctx, d.id, drafts, d.lead)
	if err != nil {
		return err
	}
	return d.append(ctx, items)
}
