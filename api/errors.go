package api

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"sextant/api/auth"
	"sextant/api/engine"
	"sextant/api/transfer"
	"sextant/stats/game"
	"sextant/stats/table"
	"sextant/store"
)

// problem is an RFC 9457 problem document. Type is a place on the page
// /api/docs that explains it.
type problem struct {
	Type      string        `json:"type" format:"uri-reference" doc:"Which problem it is: a place on the page /api/docs"`
	Title     string        `json:"title"`
	Status    int           `json:"status"`
	Detail    string        `json:"detail" doc:"What happened, where, and what to do"`
	RequestID string        `json:"request_id,omitempty" doc:"Names the request in the server's log"`
	Errors    []problemItem `json:"errors,omitempty" doc:"Each thing that is wrong"`

	headers http.Header
	cause   error // for the log only
}

// problemItem is one thing that is wrong: in a JSON body (pointer), in a
// parameter, or in a file (file, line, column).
type problemItem struct {
	Pointer   string `json:"pointer,omitempty" doc:"JSON Pointer (RFC 6901) into the body"`
	Parameter string `json:"parameter,omitempty" doc:"Path, query or header parameter"`
	File      string `json:"file,omitempty"`
	Line      int    `json:"line,omitempty" doc:"From 1; of a table, the header is line 1"`
	Column    string `json:"column,omitempty" doc:"Name of a table's column"`
	Message   string `json:"message"`
}

// Error is the sentence for people.
func (p *problem) Error() string { return p.Detail }

// Unwrap is what happened inside.
func (p *problem) Unwrap() error { return p.cause }

// GetStatus is the HTTP status.
func (p *problem) GetStatus() int { return p.Status }

// GetHeaders are the headers that go with it.
func (p *problem) GetHeaders() http.Header { return p.headers }

// ContentType is the media type of RFC 9457.
func (p *problem) ContentType(string) string { return problemType }

const problemType = "application/problem+json"

// kind is one kind of problem. Status codes stand here and nowhere else.
type kind struct {
	slug   string
	status int
	title  string
	advice string // for /api/docs
}

// The kinds of problem.
var (
	malformed       = newKind("malformed", http.StatusBadRequest, "The request cannot be read", "The body is not JSON, or not UTF-8, or a parameter has another form. The place is named.")
	notSignedIn     = newKind("not-signed-in", http.StatusUnauthorized, "Not signed in", "The session ended or there was none. Sign in again; what is unsent stays on the device.")
	wrongSecret     = newKind("wrong-secret", http.StatusUnauthorized, "Name, password or code is wrong", "Look for a slip of the keys. A code may also have been replaced by a newer one.")
	notAllowed      = newKind("not-allowed", http.StatusForbidden, "Not allowed", "The role of the caller does not include this.")
	keptApart       = newKind("kept-apart", http.StatusForbidden, "Kept apart for the lead", "The device was signed out, so the lead looks first at what it sends. It stays on the device until the lead has accepted it.")
	crossOrigin     = newKind("cross-origin", http.StatusForbidden, "The request came from another site", "Open the app at its own address. Behind a proxy, tell the server its public address (--public-url).")
	notFound        = newKind("not-found", http.StatusNotFound, "Not found", "It does not exist, or is nothing that the caller may see.")
	wrongMethod     = newKind("wrong-method", http.StatusMethodNotAllowed, "No such operation here", "The path exists, this method does not.")
	_               = newKind("timed-out", http.StatusRequestTimeout, "The request took too long to arrive", "Send it again.")
	alreadyThere    = newKind("exists", http.StatusConflict, "Already there", "Choose another name.")
	inUse           = newKind("in-use", http.StatusConflict, "Still in use", "Something else needs what was to be taken away. The text says what.")
	ended           = newKind("ended", http.StatusGone, "Has ended", "The code, link or event has ended, was revoked or is used up. Ask the lead for a new one.")
	stale           = newKind("stale", http.StatusPreconditionFailed, "Changed in the meantime", "Somebody else changed it since it was read. Read it again, then decide.")
	tooLarge        = newKind("too-large", http.StatusRequestEntityTooLarge, "Too large", "Send less at once. The limit is named.")
	wrongMedia      = newKind("wrong-media-type", http.StatusUnsupportedMediaType, "Not a form of data that is read here", "The accepted ones stand with the operation.")
	invalid         = newKind("invalid", http.StatusUnprocessableEntity, "Something in it is wrong", "Each thing that is wrong is listed with its place; nothing was changed.")
	unknownProtocol = newKind("unknown-protocol", http.StatusUnprocessableEntity, "The app and the server do not speak the same protocol", "Load the app again from the server. What is unsent stays on the device.")
	unsolvable      = newKind("unsolvable", http.StatusUnprocessableEntity, "No estimate can be made of these numbers", "Look for a mistyped score. Nothing that was entered is lost.")
	tooManyTries    = newKind("too-many-tries", http.StatusTooManyRequests, "Too many wrong tries", "Wait for the time in Retry-After.")
	internal        = newKind("internal", http.StatusInternalServerError, "The server failed", "Nothing is lost that was confirmed. Tell whoever runs the server the request_id, which is in the log.")
	unavailable     = newKind("unavailable", http.StatusServiceUnavailable, "Not available at the moment", "Try again shortly.")
)

var kinds []*kind // in the order above, for /api/docs

func newKind(slug string, status int, title, advice string) *kind {
	k := &kind{slug, status, title, advice}
	kinds = append(kinds, k)
	return k
}

// because makes the kind a problem.
func (k *kind) because(detail string, items ...problemItem) *problem {
	return &problem{Type: "/api/docs#problem-" + k.slug, Title: k.title, Status: k.status, Detail: detail, Errors: items}
}

// unchanged answers a conditional read whose data has not changed (RFC 9110,
// section 15.4.5).
func unchanged(etag string) error {
	return &problem{Status: http.StatusNotModified, headers: http.Header{"Etag": {etag}}}
}

// isClosed reports that the caller went away.
func isClosed(err error) bool { return errors.Is(err, context.Canceled) }

// asProblem says what an error of a handler means to the caller. Text of an
// error that is not known is for the log.
func asProblem(err error) *problem {
	var p *problem
	if errors.As(err, &p) {
		return p
	}
	p = explain(err)
	p.cause = err
	return p
}

func explain(err error) *problem {
	var json game.Problems
	var rows table.Errors
	var line *store.LineError
	switch {
	case errors.As(err, &rows):
		return invalid.because("Nothing was changed. "+rows.Error(), tableItems(rows)...)
	case errors.As(err, &json):
		return invalid.because("Nothing was changed. "+json.Error(), jsonItems(json)...)
	case errors.As(err, &line):
		return invalid.because("Nothing was taken in. "+line.Message, problemItem{Line: line.Line, Message: line.Message})
	case errors.Is(err, auth.ErrPassword):
		return invalid.because(sentence(auth.ErrPassword)+".", problemItem{Pointer: "/password", Message: auth.ErrPassword.Error()})
	case errors.Is(err, engine.ErrUnsolvable):
		return unsolvable.because("The numbers of this event are so extreme that no estimate can be made. Look for a slip in the scores; everything entered is safe.")
	case errors.Is(err, transfer.ErrNoList):
		return notFound.because("There is no such pick list; say which with the parameter list.", problemItem{Parameter: "list", Message: "no such list"})
	case errors.Is(err, transfer.ErrFrozen):
		return invalid.because("This list is a dated copy and stays as it was, so nothing was changed. Import into another list, or into a new one.", problemItem{Parameter: "list", Message: "a dated copy"})
	case errors.Is(err, transfer.ErrRedacted):
		return invalid.because("A pick list is nothing but plans. Take strategy out of redact, or choose another table.", problemItem{Parameter: "redact", Message: "a pick list is left out"})
	case errors.Is(err, store.ErrNotFound):
		return notFound.because("There is no such thing at this event.")
	case errors.Is(err, store.ErrStale):
		return stale.because("Somebody else changed this since it was read, so nothing was written. Read it again, then decide.")
	case errors.Is(err, store.ErrExists):
		return alreadyThere.because("There is one of that name already; choose another.")
	case errors.Is(err, store.ErrConflict):
		return inUse.because("Something else still needs what was to be taken away, so nothing was changed.")
	case errors.Is(err, store.ErrGone):
		return ended.because("It has ended, was revoked or is used up. Ask the lead for a new one.")
	case errors.Is(err, store.ErrInvalid):
		return invalid.because("The database cannot keep a value of this request; nothing was changed.")
	case errors.Is(err, context.DeadlineExceeded):
		return unavailable.because("The server took too long and gave up; nothing was changed. Try again shortly.")
	}
	return internal.because("The server failed. What it confirmed earlier is safe; try again, and if it fails again, tell whoever runs the server this request id.")
}

func jsonItems(ps game.Problems) []problemItem {
	items := make([]problemItem, len(ps))
	for i, p := range ps {
		items[i] = problemItem{Pointer: p.Pointer, File: p.File, Line: p.Line, Message: p.Message}
	}
	return items
}

func tableItems(es table.Errors) []problemItem {
	items := make([]problemItem, len(es))
	for i, e := range es {
		items[i] = problemItem{File: e.File, Line: e.Line, Column: e.Column, Message: e.Message}
	}
	return items
}

// sentence begins an error's text with a capital.
func sentence(err error) string {
	text := err.Error()
	return strings.ToUpper(text[:1]) + text[1:]
}

func init() {
	// huma keeps these in variables of its package. Arrays are never null
	// here, and every error of its own becomes a problem, without the value
	// that was refused, which may be a password.
	huma.DefaultArrayNullable = false
	huma.NewError = func(status int, detail string, errs ...error) huma.StatusError {
		return ownProblem(status, detail, errs)
	}
	huma.NewErrorWithContext = func(ctx huma.Context, status int, detail string, errs ...error) huma.StatusError {
		p := ownProblem(status, detail, errs)
		p.RequestID = requestID(ctx.Context())
		return p
	}
}

// ownProblem turns an error of huma's own (a body or parameter that does not
// have the described form) into a problem.
func ownProblem(status int, detail string, errs []error) *problem {
	k := kindOf(status)
	items := make([]problemItem, 0, len(errs))
	for _, err := range errs {
		if err != nil {
			items = append(items, itemOf(err))
		}
	}
	switch {
	case k == internal:
		items = nil
	case len(items) > 0:
		detail = "Nothing was changed. " + items[0].text()
	}
	return k.because(detail, items...)
}

// kindOf finds the kind for a status that huma or echo chose.
func kindOf(status int) *kind {
	for _, k := range kinds {
		if k.status == status {
			return k
		}
	}
	if status < http.StatusInternalServerError {
		return malformed
	}
	return internal
}

// index is an array's place in huma's notation.
var index = regexp.MustCompile(`\[(\d+)\]`)

func itemOf(err error) problemItem {
	d, ok := err.(huma.ErrorDetailer)
	if !ok {
		return problemItem{Message: err.Error()}
	}
	at := d.ErrorDetail()
	if rest, isBody := strings.CutPrefix(at.Location, "body"); isBody {
		return problemItem{Pointer: strings.ReplaceAll(index.ReplaceAllString(rest, ".$1"), ".", "/"), Message: at.Message}
	}
	_, name, _ := strings.Cut(at.Location, ".")
	return problemItem{Parameter: name, Message: at.Message}
}

// text is the item as part of a sentence: place, then message.
func (i problemItem) text() string {
	for _, place := range []string{i.Pointer, i.Parameter} {
		if place != "" {
			return place + ": " + i.Message
		}
	}
	return i.Message
}
