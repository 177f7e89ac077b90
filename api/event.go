package api

import (
	"cmp"
	"context"
	"encoding/json"
	"strings"
	"time"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"sextant/api/auth"
	"sextant/api/transfer"
	"sextant/stats/game"
	"sextant/stats/record"
	"sextant/store"
)

// EventPath is the path parameter that every operation of an event has.
type EventPath struct {
	Event uuid.UUID `path:"event" format:"uuid"`
}

// eventView is one team's view of one competition. A scout gets neither the
// overrides nor data_no.
type eventView struct {
	EventID   uuid.UUID       `json:"event_id"`
	Name      string          `json:"name"`
	Zone      string          `json:"zone" doc:"IANA time zone, such as America/Chicago"`
	OurTeam   string          `json:"our_team,omitempty"`
	GameHash  string          `json:"game_hash" doc:"Changes with the game file"`
	Overrides json.RawMessage `json:"overrides,omitempty" doc:"The event's own settings over the game file (event.json)"`
	ChangeNo  int64           `json:"change_no" doc:"Number of the last change of the event"`
	DataNo    int64           `json:"data_no,omitempty" doc:"Number of the last change that moves estimates"`
	Role      string          `json:"role" enum:"lead,coach,scout"`
	Nickname  string          `json:"nickname"`
	MemberID  uuid.UUID       `json:"member_id"`
}

type listEventsOutput struct {
	Body struct {
		Events []eventOfMember `json:"events"`
	}
}

type createEventInput struct {
	Body struct {
		Name      string          `json:"name" maxLength:"200"`
		Zone      string          `json:"zone" maxLength:"100" doc:"IANA time zone, such as America/Chicago"`
		OurTeam   string          `json:"our_team,omitempty" maxLength:"6"`
		Game      json.RawMessage `json:"game" doc:"The season's game file; see /api/schema/game.json"`
		Overrides json.RawMessage `json:"overrides,omitempty" doc:"The event's own settings (event.json)"`
		Nickname  string          `json:"nickname,omitempty" maxLength:"200" doc:"How the lead is called at this event; the account's name if absent"`
	}
}

type eventOutput struct {
	ETag string `header:"ETag"`
	Body eventView
}

type getEventInput struct {
	EventPath
	IfNoneMatch
}

type updateEventInput struct {
	EventPath
	IfMatch
	Body struct {
		Name      *string         `json:"name,omitempty" maxLength:"200"`
		Zone      *string         `json:"zone,omitempty" maxLength:"100"`
		OurTeam   *string         `json:"our_team,omitempty" maxLength:"6" doc:"Empty: not said"`
		Overrides json.RawMessage `json:"overrides,omitempty"`
	}
}

func (s *Server) listEvents(ctx context.Context, _ *struct{}) (*listEventsOutput, error) {
	events, err := s.eventsOf(ctx, viewerOf(ctx))
	if err != nil {
		return nil, err
	}
	out := &listEventsOutput{}
	out.Body.Events = events
	return out, nil
}

// eventsOf lists the events that a viewer may enter: an account's, or the one
// of a member's session.
func (s *Server) eventsOf(ctx context.Context, v viewer) ([]eventOfMember, error) {
	if !v.is(auth.Account) {
		ev, err := s.opt.Store.Event(ctx, v.eventID)
		if err != nil {
			return nil, err
		}
		return []eventOfMember{{ev.ID, ev.Name, string(v.role), v.nickname, v.memberID}}, nil
	}
	found, err := s.opt.Store.Events(ctx, v.accountID)
	if err != nil {
		return nil, err
	}
	events := make([]eventOfMember, len(found))
	for i, f := range found {
		events[i] = eventOfMember{f.Event.ID, f.Event.Name, string(f.Role), f.Nickname, f.MemberID}
	}
	return events, nil
}

func (s *Server) createEvent(ctx context.Context, in *createEventInput) (*eventOutput, error) {
	v := viewerOf(ctx)
	n, err := newEvent(in, v)
	if err != nil {
		return nil, err
	}
	ev, member, err := s.opt.Store.CreateEvent(ctx, n)
	if err != nil {
		return nil, err
	}
	v.eventID, v.memberID, v.role, v.nickname = ev.ID, member.ID, auth.Role(member.Role), member.Nickname
	return s.eventAnswer(ev, v), nil
}

// newEvent checks what an event is to be made of. What the event's settings
// say about team and zone stands where the request does not.
func newEvent(in *createEventInput, v viewer) (store.NewEvent, error) {
	b := in.Body
	g, err := game.Load("game.json", b.Game)
	if err != nil {
		return store.NewEvent{}, err
	}
	settings := &game.EventSettings{}
	if len(b.Overrides) > 0 {
		if _, settings, err = g.Override("event.json", b.Overrides); err != nil {
			return store.NewEvent{}, err
		}
	}
	n := store.NewEvent{
		Name: strings.TrimSpace(b.Name), Zone: cmp.Or(b.Zone, settings.TimeZone), OurTeam: record.TeamID(cmp.Or(b.OurTeam, settings.OurTeam)),
		GameBody: b.Game, Overrides: b.Overrides, AccountID: &v.accountID, Nickname: cmp.Or(norm.NFC.String(strings.TrimSpace(b.Nickname)), v.nickname),
	}
	problems := checkEvent(&n.Name, &n.Zone, &n.OurTeam)
	if err := record.CheckScout(n.Nickname); err != nil {
		problems = append(problems, problemItem{Pointer: "/nickname", Message: err.Error()})
	}
	return n, problems.err()
}

// eventProblems are what is wrong with an event's own members.
type eventProblems []problemItem

func (ps eventProblems) err() error {
	if len(ps) == 0 {
		return nil
	}
	return invalid.because("Nothing was changed. "+ps[0].text(), ps...)
}

// checkEvent checks an event's own members; nil is not checked.
func checkEvent(name, zone *string, ourTeam *record.TeamID) eventProblems {
	var ps eventProblems
	if name != nil {
		if err := record.CheckText(*name, record.MaxName); err != nil {
			ps = append(ps, problemItem{Pointer: "/name", Message: err.Error()})
		} else if *name == "" {
			ps = append(ps, problemItem{Pointer: "/name", Message: "the event needs a name"})
		}
	}
	if zone != nil {
		if _, err := time.LoadLocation(*zone); err != nil || *zone == "" || *zone == "Local" {
			ps = append(ps, problemItem{Pointer: "/zone", Message: "write a time zone of the IANA list, such as America/Chicago"})
		}
	}
	if ourTeam != nil && *ourTeam != "" && !record.ValidTeam(string(*ourTeam)) {
		ps = append(ps, problemItem{Pointer: "/our_team", Message: "a team is a number of one to five digits, with one capital letter at the end for a second robot"})
	}
	return ps
}

func (s *Server) getEvent(ctx context.Context, in *getEventInput) (*eventOutput, error) {
	ev, err := s.opt.Store.Event(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := s.eventAnswer(ev, viewerOf(ctx))
	return out, fresh(in.Seen, out.ETag)
}

func (s *Server) updateEvent(ctx context.Context, in *updateEventInput) (*eventOutput, error) {
	version, err := expectedNumber(in.Expected)
	if err != nil {
		return nil, err
	}
	b := in.Body
	if b.Name != nil {
		*b.Name = strings.TrimSpace(*b.Name)
	}
	if err := checkEvent(b.Name, b.Zone, (*record.TeamID)(b.OurTeam)).err(); err != nil {
		return nil, err
	}
	if err := s.checkOverrides(ctx, in.Event, b.Overrides); err != nil {
		return nil, err
	}
	ev, err := s.opt.Store.UpdateEvent(ctx, in.Event, store.EventPatch{
		Name: b.Name, Zone: b.Zone, OurTeam: (*record.TeamID)(b.OurTeam), Overrides: b.Overrides,
	}, version)
	if err != nil {
		return nil, err
	}
	return s.eventAnswer(ev, viewerOf(ctx)), nil
}

// checkOverrides tries new settings on the event's game file.
func (s *Server) checkOverrides(ctx context.Context, event uuid.UUID, overrides json.RawMessage) error {
	if len(overrides) == 0 {
		return nil
	}
	g, _, err := transfer.GameFile(ctx, s.opt.Store, event)
	if err != nil {
		return err
	}
	_, _, err = g.Override("event.json", overrides)
	return err
}

// eventAnswer is an event as the viewer may see it.
func (s *Server) eventAnswer(ev store.Event, v viewer) *eventOutput {
	view := eventView{
		EventID: ev.ID, Name: ev.Name, Zone: ev.Zone, OurTeam: string(ev.OurTeam), GameHash: ev.GameHash,
		ChangeNo: ev.ChangeNo, Role: string(v.role), Nickname: v.nickname, MemberID: v.memberID,
	}
	if !v.is(auth.Scout) {
		view.Overrides, view.DataNo = ev.Overrides, ev.DataNo
	}
	return &eventOutput{ETag: etag(ev.Version, ev.ChangeNo, v.role), Body: view}
}
