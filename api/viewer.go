package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/stats/record"
	"sextant/store"
)

// cookieName holds "<event>.<token>". The event leads every key in the store,
// so it must be known before the token is looked up; zero stands for an
// account's own session.
const cookieName = "sextant_session"

// sessionLife is how long a session lasts: a season's events are weeks apart,
// and a tablet that was joined the evening before must not be signed out.
const sessionLife = 30 * 24 * time.Hour

// viewer is who makes a request.
type viewer struct {
	session   bool // signed in
	eventID   uuid.UUID
	memberID  uuid.UUID
	accountID uuid.UUID
	role      auth.Role
	member    record.Role // of a device that is out: what its session was
	nickname  string      // the member's; outside an event the account's name
	device    string
	cookie    cookieValue
}

// is reports whether the viewer has a role in the event of the request.
func (v viewer) is(r auth.Role) bool { return v.role == r }

// stored is the viewer in the store's words.
func (v viewer) stored() store.Viewer {
	return store.Viewer{Role: record.Role(v.role), MemberID: v.memberID}
}

// by says who makes revisions.
func (v viewer) by(via string) store.By {
	return store.By{Author: v.nickname, MemberID: v.memberID, Role: record.Role(v.role), DeviceID: v.device, Via: via}
}

type viewerKey struct{}

// viewerOf returns who makes the request. authorize has put it there.
func viewerOf(ctx context.Context) viewer {
	v, _ := ctx.Value(viewerKey{}).(viewer)
	return v
}

type cookieValue struct {
	event uuid.UUID
	token string
}

func (c cookieValue) String() string { return c.event.String() + "." + c.token }

func parseCookie(s string) (cookieValue, bool) {
	event, token, ok := strings.Cut(s, ".")
	id, err := uuid.Parse(event)
	return cookieValue{id, token}, ok && err == nil && token != ""
}

// newCookie is the cookie of a session; an empty value takes it away.
func (s *Server) newCookie(value string) http.Cookie {
	c := http.Cookie{
		Name: cookieName, Value: value, Path: "/",
		HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: s.secure,
		MaxAge: int(sessionLife / time.Second),
	}
	if value == "" {
		c.MaxAge = -1
	}
	return c
}

// cookieFor is newCookie for the request of ctx: over TLS it is for TLS only.
func (s *Server) cookieFor(ctx context.Context, value string) http.Cookie {
	c := s.newCookie(value)
	if overTLS, _ := ctx.Value(overTLSKey{}).(bool); overTLS {
		c.Secure = true
	}
	return c
}

// authorize finds out who asks and refuses what the table of api/auth does not
// allow, before any body is read.
func (s *Server) authorize(ctx huma.Context, next func(huma.Context)) {
	v, err := s.admit(ctx)
	if err != nil {
		p := s.report(ctx.Context(), err)
		if p.Status == http.StatusUnauthorized {
			ctx.SetHeader("WWW-Authenticate", `Cookie realm="sextant"`)
		}
		writeHumaProblem(ctx, p)
		return
	}
	next(huma.WithValue(ctx, viewerKey{}, v))
}

// writeHumaProblem answers with a problem from within huma's middleware.
func writeHumaProblem(ctx huma.Context, p *problem) {
	for name, values := range p.headers {
		for _, v := range values {
			ctx.SetHeader(name, v)
		}
	}
	ctx.SetHeader("Content-Type", problemType)
	ctx.SetStatus(p.Status)
	// A client that has gone away is not worth a log line.
	_ = json.NewEncoder(ctx.BodyWriter()).Encode(p)
}

// admit says who makes the request, or why the operation is refused.
func (s *Server) admit(ctx huma.Context) (viewer, error) {
	v, err := s.signedIn(ctx)
	if err != nil {
		return v, err
	}
	if event := ctx.Param("event"); event != "" && v.session {
		if v, err = s.enter(ctx.Context(), v, event); err != nil {
			return v, err
		}
	}
	op := ctx.Operation().OperationID
	if !v.session && !auth.Allowed(op, auth.Nobody) && auth.Allowed(op, auth.Out) {
		if v, err = s.out(ctx, v); err != nil {
			return v, err
		}
	}
	switch {
	case auth.Allowed(op, v.role):
		return v, nil
	case !v.session:
		return v, notSignedIn.because("Sign in, or join with a code. What is unsent stays on the device.")
	}
	return v, notAllowed.because("As " + string(v.role) + " you may not do this. Ask the lead.")
}

// signedIn reads the cookie. A session that ended is none.
func (s *Server) signedIn(ctx huma.Context) (viewer, error) {
	nobody := viewer{role: auth.Nobody}
	raw, err := humaecho.Unwrap(ctx).Cookie(cookieName)
	if err != nil {
		return nobody, nil
	}
	cookie, ok := parseCookie(raw.Value)
	if !ok {
		return nobody, nil
	}
	found, err := s.opt.Store.Session(ctx.Context(), cookie.event, auth.HashToken(cookie.token))
	if errors.Is(err, store.ErrNotFound) {
		return nobody, nil
	}
	if err != nil {
		return nobody, err
	}
	v := viewer{
		session: true, cookie: cookie, role: auth.Role(found.Role), nickname: found.Nickname, device: found.DeviceID,
		eventID: found.EventID, memberID: found.MemberID, accountID: found.AccountID,
	}
	if found.EventID == uuid.Nil {
		v.role = auth.Account
	}
	return v, nil
}

// out recognises a device whose session for the event of the request was
// ended before its time; anybody else stays who they are.
func (s *Server) out(ctx huma.Context, nobody viewer) (viewer, error) {
	raw, err := humaecho.Unwrap(ctx).Cookie(cookieName)
	if err != nil {
		return nobody, nil
	}
	cookie, ok := parseCookie(raw.Value)
	if !ok || cookie.event == uuid.Nil || cookie.event.String() != ctx.Param("event") {
		return nobody, nil
	}
	was, err := s.opt.Store.EndedSession(ctx.Context(), cookie.event, auth.HashToken(cookie.token))
	if errors.Is(err, store.ErrNotFound) {
		return nobody, nil
	}
	if err != nil {
		return nobody, err
	}
	return viewer{role: auth.Out, member: was.Role, eventID: cookie.event, memberID: was.MemberID, nickname: was.Nickname, device: was.DeviceID}, nil
}

// enter says what a signed-in viewer is at an event. An event where the viewer
// has no part looks like one that does not exist.
func (s *Server) enter(ctx context.Context, v viewer, event string) (viewer, error) {
	unknown := notFound.because("There is no such event, or you have no part in it.")
	id, err := uuid.Parse(event)
	if err != nil {
		return v, unknown
	}
	if v.role != auth.Account {
		if v.eventID != id {
			return v, unknown
		}
		return v, nil
	}
	m, err := s.opt.Store.MemberOfAccount(ctx, id, v.accountID)
	if errors.Is(err, store.ErrNotFound) {
		return v, unknown
	}
	if err != nil {
		return v, err
	}
	v.eventID, v.memberID, v.role, v.nickname = id, m.ID, auth.Role(m.Role), m.Nickname
	return v, nil
}
