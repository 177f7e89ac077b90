package api

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"
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
	return nil, errNotReady
}

func (s *Server) createEvent(ctx context.Context, in *createEventInput) (*eventOutput, error) {
	return nil, errNotReady
}

func (s *Server) getEvent(ctx context.Context, in *getEventInput) (*eventOutput, error) {
	return nil, errNotReady
}

func (s *Server) updateEvent(ctx context.Context, in *updateEventInput) (*eventOutput, error) {
	return nil, errNotReady
}
