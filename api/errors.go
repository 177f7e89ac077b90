package api

import (
	"errors"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// problem is an RFC 9457 problem document. Type is a path into /api/docs.
type problem struct {
	Type      string        `json:"type" format:"uri-reference" doc:"Which problem it is; explained at that place"`
	Title     string        `json:"title"`
	Status    int           `json:"status"`
	Detail    string        `json:"detail" doc:"What happened, where, and what to do"`
	RequestID string        `json:"request_id,omitempty" doc:"Names this request in the server's log"`
	Errors    []problemItem `json:"errors,omitempty" doc:"Each thing that is wrong"`
}

// problemItem is one thing that is wrong, in a JSON body (pointer), in a
// parameter, or in a file (file, line, column).
type problemItem struct {
	Pointer   string `json:"pointer,omitempty" doc:"JSON Pointer (RFC 6901) into the body"`
	Parameter string `json:"parameter,omitempty" doc:"Name of a path, query or header parameter"`
	File      string `json:"file,omitempty"`
	Line      int    `json:"line,omitempty" doc:"From 1; the header is line 1"`
	Column    string `json:"column,omitempty" doc:"Name of the column"`
	Message   string `json:"message"`
}

var errNotReady = errors.New("not ready")

// Error makes a problem an error of huma's.
func (p *problem) Error() string { return p.Detail }

// GetStatus is the HTTP status.
func (p *problem) GetStatus() int { return p.Status }

// ContentType is the media type of RFC 9457.
func (p *problem) ContentType(string) string { return "application/problem+json" }

func init() {
	// huma keeps these in variables of its package. Arrays are never null
	// here, and every error document is a problem without the offending value
	// (which may be a password).
	huma.DefaultArrayNullable = false
	huma.NewError = newProblem
	huma.NewErrorWithContext = func(_ huma.Context, status int, detail string, errs ...error) huma.StatusError {
		return newProblem(status, detail, errs...)
	}
}

func newProblem(status int, detail string, errs ...error) huma.StatusError {
	p := &problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: detail}
	for _, err := range errs {
		if err == nil {
			continue
		}
		item := problemItem{Message: err.Error()}
		if d, ok := err.(huma.ErrorDetailer); ok {
			detail := d.ErrorDetail()
			item = problemItem{Message: detail.Message}
			if rest, isBody := strings.CutPrefix(detail.Location, "body"); isBody {
				item.Pointer = rest
			} else {
				item.Parameter = detail.Location
			}
		}
		p.Errors = append(p.Errors, item)
	}
	return p
}
