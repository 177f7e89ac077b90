package api

import (
	"cmp"
	"context"
	"crypto/subtle"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"golang.org/x/text/unicode/norm"

	"sextant/api/auth"
	"sextant/stats/record"
	"sextant/store"
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
	Hall     *Hall           `json:"hall,omitempty" doc:"For an account and a lead, where the server has a certificate authority of its own"`
	Warnings []Warning       `json:"warnings,omitempty" doc:"For an account and a lead: what to know about the server now"`
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
	right, err := s.takeTry(ctx)
	if err != nil {
		return nil, err
	}
	secret := auth.HashToken(in.Body.Secret)
	if err := s.checkSetUpSecret(ctx, secret); err != nil {
		return nil, err
	}
	right()
	name := strings.TrimSpace(in.Body.Name)
	if err := record.CheckScout(name); err != nil {
		return nil, invalid.because("The name cannot be used: "+err.Error()+".", problemItem{Pointer: "/name", Message: err.Error()})
	}
	hash, err := auth.HashPassword(ctx, in.Body.Password)
	if err != nil {
		return nil, err
	}
	account, err := s.opt.Store.CreateFirstAccount(ctx, secret, name, hash)
	if err != nil {
		return nil, err
	}
	return s.openAccount(ctx, account)
}

// checkSetUpSecret refuses a wrong secret before a password is hashed for it.
func (s *Server) checkSetUpSecret(ctx context.Context, hash []byte) error {
	done, err := s.opt.Store.HasAccount(ctx)
	if err != nil {
		return err
	}
	if done {
		return ended.because("This server has its first account already, so the set-up link is used up. Sign in instead.")
	}
	want, err := s.opt.Store.Setting(ctx, store.SettingSetup)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if subtle.ConstantTimeCompare([]byte(hex.EncodeToString(hash)), []byte(want)) != 1 {
		return wrongSecret.because("This is not the set-up link that the server printed last. Open the newest one.")
	}
	return nil
}

func (s *Server) signIn(ctx context.Context, in *signInInput) (*sessionOutput, error) {
	b := in.Body
	switch {
	case b.Code != "" && b.Password == "" && b.Name == "":
		return s.join(ctx, in)
	case b.Code == "" && b.Name != "" && b.Password != "":
		return s.signInAccount(ctx, b.Name, b.Password)
	}
	return nil, invalid.because("Send either a name and a password, or a code and a nickname.")
}

// signInAccount answers a wrong name and a wrong password alike, and in the
// same time.
func (s *Server) signInAccount(ctx context.Context, name, password string) (*sessionOutput, error) {
	right, err := s.takeTry(ctx)
	if err != nil {
		return nil, err
	}
	account, err := s.opt.Store.AccountByName(ctx, strings.TrimSpace(name))
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return nil, err
	}
	ok, renew, err := auth.CheckPassword(ctx, password, account.PasswordHash)
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, wrongSecret.because("The name or the password is wrong.")
	}
	right()
	if renew {
		if err := s.renewPassword(ctx, account.Name, password); err != nil {
			return nil, err
		}
	}
	return s.openAccount(ctx, account)
}

// renewPassword hashes a password anew when the parameters have changed.
func (s *Server) renewPassword(ctx context.Context, name, password string) error {
	hash, err := auth.HashPassword(ctx, password)
	if err != nil {
		return err
	}
	return s.opt.Store.SetPassword(ctx, name, hash)
}

// join uses a code. A link for one person needs no nickname: its label is
// taken.
func (s *Server) join(ctx context.Context, in *signInInput) (*sessionOutput, error) {
	nickname, device := norm.NFC.String(strings.TrimSpace(in.Body.Nickname)), in.Body.Device
	if err := record.CheckScout(nickname); err != nil && nickname != "" {
		return nil, wrongNickname(err)
	}
	if err := record.CheckText(device, maxDevice); err != nil || device == "" {
		return nil, invalid.because("The device has not told its own name; load the app again.", problemItem{Pointer: "/device", Message: "a text of 1 to 100 characters"})
	}
	right, err := s.takeTry(ctx)
	if err != nil {
		return nil, err
	}
	token := auth.NewToken()
	event, member, err := s.opt.Store.RedeemCode(ctx, store.Redemption{
		CodeHash: auth.HashCode(in.Body.Code), Nickname: nickname, DeviceID: device, DeviceKind: deviceKindOf(ctx),
		TokenHash: auth.HashToken(token), ExpiresAt: s.opt.Now().Add(sessionLife),
	})
	if err == nil || errors.Is(err, store.ErrExists) {
		right()
	}
	if err != nil {
		return nil, whyNotJoined(err, nickname)
	}
	s.noteOrigin(ctx)
	return s.opened(ctx, viewer{
		session: true, cookie: cookieValue{event.ID, token}, eventID: event.ID, memberID: member.ID,
		role: auth.Role(member.Role), nickname: member.Nickname, device: device,
	})
}

// whyNotJoined tells what is wrong with a code or a nickname.
func whyNotJoined(err error, nickname string) error {
	switch {
	case errors.Is(err, store.ErrNotFound):
		return wrongSecret.because("There is no such code. Look for a slip of the keys, or ask the lead for a new one.")
	case errors.Is(err, store.ErrInvalid) && nickname == "":
		return wrongNickname(record.CheckScout(nickname))
	case errors.Is(err, store.ErrExists):
		return alreadyThere.because("The nickname "+cmp.Or(nickname, "of this link")+" is taken by another device at this event. Choose another, or ask the lead to free it.", problemItem{Pointer: "/nickname", Message: "taken"})
	}
	return err
}

func wrongNickname(err error) *problem {
	return invalid.because("The nickname cannot be used: "+err.Error()+".", problemItem{Pointer: "/nickname", Message: err.Error()})
}

// maxDevice bounds a device's name for itself, in characters.
const maxDevice = 100

// takeTry asks the limiter for a try; right gives it back.
func (s *Server) takeTry(ctx context.Context) (right func(), err error) {
	right, wait := s.limiter.Take(addressOf(ctx))
	if wait > 0 {
		seconds := int(math.Ceil(wait.Seconds()))
		p := tooManyTries.because(fmt.Sprintf("Too many wrong tries. Wait %d s, then try again.", seconds))
		p.headers = http.Header{"Retry-After": {strconv.Itoa(seconds)}}
		return nil, p
	}
	return right, nil
}

// openAccount starts an account's own session.
func (s *Server) openAccount(ctx context.Context, account store.Account) (*sessionOutput, error) {
	token := auth.NewToken()
	_, err := s.opt.Store.CreateSession(ctx, store.NewSession{
		AccountID: account.ID, TokenHash: auth.HashToken(token), DeviceKind: deviceKindOf(ctx), ExpiresAt: s.opt.Now().Add(sessionLife),
	})
	if err != nil {
		return nil, err
	}
	return s.opened(ctx, viewer{
		session: true, cookie: cookieValue{uuid.Nil, token}, accountID: account.ID, role: auth.Account, nickname: account.Name,
	})
}

// opened ends the session that this browser had before and answers with the
// new one.
func (s *Server) opened(ctx context.Context, v viewer) (*sessionOutput, error) {
	if err := s.endSession(ctx, viewerOf(ctx)); err != nil {
		return nil, err
	}
	view, err := s.view(ctx, v)
	if err != nil {
		return nil, err
	}
	return &sessionOutput{SetCookie: s.cookieFor(ctx, v.cookie.String()), Body: view}, nil
}

func (s *Server) endSession(ctx context.Context, v viewer) error {
	if !v.session {
		return nil
	}
	return s.opt.Store.RevokeSession(ctx, v.cookie.event, auth.HashToken(v.cookie.token))
}

func (s *Server) getSession(ctx context.Context, _ *struct{}) (*getSessionOutput, error) {
	view, err := s.view(ctx, viewerOf(ctx))
	if err != nil {
		return nil, err
	}
	return &getSessionOutput{Body: view}, nil
}

func (s *Server) signOut(ctx context.Context, _ *struct{}) (*signOutOutput, error) {
	if err := s.endSession(ctx, viewerOf(ctx)); err != nil {
		return nil, err
	}
	return &signOutOutput{SetCookie: s.cookieFor(ctx, "")}, nil
}

// view tells a browser who it is.
func (s *Server) view(ctx context.Context, v viewer) (sessionView, error) {
	out := sessionView{Events: []eventOfMember{}, Protocol: protocol}
	var err error
	if out.SetUp, err = s.opt.Store.HasAccount(ctx); err != nil || !v.session {
		return out, err
	}
	if out.Events, err = s.eventsOf(ctx, v); err != nil {
		return out, err
	}
	if v.is(auth.Account) || v.is(auth.Lead) {
		out.Hall = s.opt.Hall
		if out.Warnings, err = s.allWarnings(ctx); err != nil {
			return out, err
		}
		waiting, err := s.heldWarnings(ctx, out.Events)
		if err != nil {
			return out, err
		}
		out.Warnings = append(out.Warnings, waiting...)
	}
	if v.is(auth.Account) {
		out.Account = &accountView{Name: v.nickname}
		return out, nil
	}
	out.Role, out.Nickname, out.MemberID, out.EventID = string(v.role), v.nickname, &v.memberID, &v.eventID
	return out, nil
}
