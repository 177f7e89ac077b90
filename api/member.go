package api

import (
	"context"
	"time"

	"github.com/google/uuid"
)

// codeView is a join code without its secret; Code is there once, in the
// answer that made it.
type codeView struct {
	CodeID    uuid.UUID  `json:"code_id"`
	Code      string     `json:"code,omitempty" doc:"Shown once"`
	Role      string     `json:"role" enum:"lead,coach,scout"`
	Label     string     `json:"label"`
	ExpiresAt time.Time  `json:"expires_at"`
	RevokedAt *time.Time `json:"revoked_at,omitempty"`
	UsesLeft  *int       `json:"uses_left,omitempty" doc:"Absent: not limited"`
	MadeAt    time.Time  `json:"made_at"`
}

type listCodesOutput struct {
	Body struct {
		Codes []codeView `json:"codes"`
	}
}

type createCodeInput struct {
	EventPath
	Body struct {
		Role  string `json:"role" enum:"lead,coach,scout"`
		Label string `json:"label,omitempty" maxLength:"200"`
		Hours int    `json:"hours" minimum:"1" maximum:"336" doc:"How long it can be used"`
		Uses  *int   `json:"uses,omitempty" minimum:"1" maximum:"1000" doc:"Absent: not limited"`
	}
}

type codeOutput struct {
	Body codeView
}

type codePath struct {
	EventPath
	Code uuid.UUID `path:"code" format:"uuid"`
}

// memberView is somebody who takes part in an event.
type memberView struct {
	MemberID uuid.UUID `json:"member_id"`
	Nickname string    `json:"nickname"`
	Role     string    `json:"role" enum:"lead,coach,scout"`
	Account  bool      `json:"account" doc:"Signs in with a password"`
}

type listMembersOutput struct {
	Body struct {
		Members []memberView `json:"members"`
	}
}

type MemberPath struct {
	EventPath
	Member uuid.UUID `path:"member" format:"uuid"`
}

type renameMemberInput struct {
	MemberPath
	Body struct {
		Nickname string `json:"nickname" maxLength:"200"`
	}
}

type memberOutput struct {
	Body memberView
}

func (s *Server) listCodes(ctx context.Context, in *EventPath) (*listCodesOutput, error) {
	return nil, errNotReady
}

func (s *Server) createCode(ctx context.Context, in *createCodeInput) (*codeOutput, error) {
	return nil, errNotReady
}

func (s *Server) revokeCode(ctx context.Context, in *codePath) (*struct{}, error) {
	return nil, errNotReady
}

func (s *Server) listMembers(ctx context.Context, in *EventPath) (*listMembersOutput, error) {
	return nil, errNotReady
}

func (s *Server) renameMember(ctx context.Context, in *renameMemberInput) (*memberOutput, error) {
	return nil, errNotReady
}

func (s *Server) removeMember(ctx context.Context, in *MemberPath) (*struct{}, error) {
	return nil, errNotReady
}
