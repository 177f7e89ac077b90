package api

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"sextant/api/auth"
	"sextant/stats/record"
	"sextant/store"
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
	MemberID uuid.UUID    `json:"member_id"`
	Nickname string       `json:"nickname"`
	Role     string       `json:"role" enum:"lead,coach,scout"`
	Account  bool         `json:"account" doc:"Signs in with a password"`
	Devices  []deviceView `json:"devices,omitempty" doc:"For a lead: where they are signed in now, the last seen first"`
}

// deviceView is a browser that is signed in.
type deviceView struct {
	Kind       string    `json:"kind,omitempty" doc:"Coarsely, from what the browser calls itself; absent: not known"`
	SignedInAt time.Time `json:"signed_in_at"`
	LastSeenAt time.Time `json:"last_seen_at" doc:"To about a minute"`
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
	codes, err := s.opt.Store.Codes(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := &listCodesOutput{}
	out.Body.Codes = make([]codeView, len(codes))
	for i, c := range codes {
		out.Body.Codes[i] = viewOfCode(c)
	}
	return out, nil
}

func viewOfCode(c store.Code) codeView {
	return codeView{
		CodeID: c.ID, Role: string(c.Role), Label: c.Label,
		ExpiresAt: c.ExpiresAt, RevokedAt: c.RevokedAt, UsesLeft: c.UsesLeft, MadeAt: c.MadeAt,
	}
}

func (s *Server) createCode(ctx context.Context, in *createCodeInput) (*codeOutput, error) {
	b := in.Body
	if err := record.CheckText(b.Label, record.MaxName); err != nil {
		return nil, invalid.because("Nothing was changed. /label: "+err.Error(), problemItem{Pointer: "/label", Message: err.Error()})
	}
	secret := auth.NewCode()
	code, err := s.opt.Store.CreateCode(ctx, in.Event, store.NewCode{
		Hash: auth.HashCode(secret), Role: record.Role(b.Role), Label: b.Label,
		ExpiresAt: s.opt.Now().Add(time.Duration(b.Hours) * time.Hour), Uses: b.Uses,
	})
	if err != nil {
		return nil, err
	}
	s.audit(ctx, "code made", map[string]any{"code_id": code.ID, "role": b.Role, "label": b.Label})
	out := &codeOutput{Body: viewOfCode(code)}
	out.Body.Code = secret
	return out, nil
}

func (s *Server) revokeCode(ctx context.Context, in *codePath) (*struct{}, error) {
	if err := s.opt.Store.RevokeCode(ctx, in.Event, in.Code); err != nil {
		return nil, err
	}
	s.audit(ctx, "code revoked", map[string]any{"code_id": in.Code})
	return nil, nil
}

func (s *Server) listMembers(ctx context.Context, in *EventPath) (*listMembersOutput, error) {
	members, err := s.opt.Store.Members(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := &listMembersOutput{}
	out.Body.Members = make([]memberView, len(members))
	for i, m := range members {
		out.Body.Members[i] = viewOfMember(m)
	}
	if !viewerOf(ctx).is(auth.Lead) {
		return out, nil
	}
	devices, err := s.opt.Store.Devices(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	for i := range out.Body.Members {
		m := &out.Body.Members[i]
		for _, d := range devices {
			if d.MemberID == m.MemberID {
				m.Devices = append(m.Devices, deviceView{Kind: d.Kind, SignedInAt: d.SignedInAt, LastSeenAt: d.LastSeenAt})
			}
		}
	}
	return out, nil
}

func viewOfMember(m store.Member) memberView {
	return memberView{MemberID: m.ID, Nickname: m.Nickname, Role: string(m.Role), Account: m.AccountID != nil}
}

func (s *Server) renameMember(ctx context.Context, in *renameMemberInput) (*memberOutput, error) {
	nickname := norm.NFC.String(strings.TrimSpace(in.Body.Nickname))
	if err := record.CheckScout(nickname); err != nil {
		return nil, invalid.because("Nothing was changed. /nickname: "+err.Error(), problemItem{Pointer: "/nickname", Message: err.Error()})
	}
	member, err := s.opt.Store.RenameMember(ctx, in.Event, in.Member, nickname)
	if err != nil {
		return nil, err
	}
	s.audit(ctx, "member renamed", map[string]any{"member_id": in.Member, "nickname": nickname})
	return &memberOutput{Body: viewOfMember(member)}, nil
}

func (s *Server) removeMember(ctx context.Context, in *MemberPath) (*struct{}, error) {
	err := s.opt.Store.RemoveMember(ctx, in.Event, in.Member)
	if errors.Is(err, store.ErrConflict) {
		return nil, inUse.because("This is the last lead of the event. Make another lead first.")
	}
	if err != nil {
		return nil, err
	}
	s.audit(ctx, "member removed", map[string]any{"member_id": in.Member})
	return nil, nil
}

// audit notes what was done. It was done already, so a failure is logged and
// not told.
func (s *Server) audit(ctx context.Context, what string, detail map[string]any) {
	v := viewerOf(ctx)
	if err := s.opt.Store.Audit(ctx, v.eventID, v.memberID, what, detail); err != nil {
		s.opt.Logger.ErrorContext(ctx, "an audit entry was lost", "request", requestID(ctx), "what", what, "error", err)
	}
}
