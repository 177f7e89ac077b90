package api

import (
	"context"
	"net/http"

	"github.com/google/uuid"
)

// protocolRange is the sync protocol that the server speaks.
type protocolRange struct {
	Min int `json:"min"`
	Max int `json:"max"`
}

// sessionView tells a browser who it is.
type sessionView struct {
	SetUp    bool            `json:"set_up" doc:"An account exists; if not, the link printed by the server makes the first one"`
	Role     string          `json:"role,omitempty" enum:"lead,coach,scout" doc:"In the event of this session; absent in an account's own session"`
	Nickname string          `json:"nickname,omitempty"`
	MemberID *uuid.UUID      `json:"member_id,omitempty"`
	EventID  *uuid.UUID      `json:"event_id,omitempty" doc:"The event of this session; absent in an account's own session"`
	Account  *accountView    `json:"account,omitempty"`
	Events   []eventOfMember `json:"events"`
	Protocol protocolRange   `json:"protocol"`
}

type accountView struct {
	Name string `json:"name"`
}

// eventOfMember is one event that the caller may enter.
type eventOfMember struct {
	EventID  uuid.UUID `json:"event_id"`
	Name     string    `json:"name"`
	Role     string    `json:"role" enum:"lead,coach,scout"`
	Nickname string    `json:"nickname"`
	MemberID uuid.UUID `json:"member_id"`
}

type setUpInput struct {
	Body struct {
		Secret   string `json:"secret" maxLength:"200" doc:"From the link that the server prints at its first start"`
		Name     string `json:"name" maxLength:"200"`
		Password string `json:"password" maxLength:"1000"`
	}
}

type signInInput struct {
	Body struct {
		Name     string `json:"name,omitempty" maxLength:"200"`
		Password string `json:"password,omitempty" maxLength:"1000"`
		Code     string `json:"code,omitempty" maxLength:"100" doc:"Join code; upper or lower case, spaces and hyphens do not matter"`
		Nickname string `json:"nickname,omitempty" maxLength:"200" doc:"With a code: how the others call you. A scout's nickname stands in each of the own records"`
		Device   string `json:"device,omitempty" maxLength:"100" doc:"With a code: a name that the device chose for itself once. The same device takes its nickname up again"`
	}
}

// sessionOutput answers with the session and its cookie.
type sessionOutput struct {
	SetCookie http.Cookie `header:"Set-Cookie"`
	Body      sessionView
}

type getSessionOutput struct {
	Body sessionView
}

type signOutOutput struct {
	SetCookie http.Cookie `header:"Set-Cookie"`
}

func (s *Server) setUp(ctx context.Context, in *setUpInput) (*sessionOutput, error) {
	return nil, errNotReady
}

func (s *Server) signIn(ctx context.Context, in *signInInput) (*sessionOutput, error) {
	return nil, errNotReady
}

func (s *Server) getSession(ctx context.Context, _ *struct{}) (*getSessionOutput, error) {
	return nil, errNotReady
}

func (s *Server) signOut(ctx context.Context, _ *struct{}) (*signOutOutput, error) {
	return nil, errNotReady
}
