package store

import (
	"encoding/hex"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// The lines of an export. Each is one JSON object with a type; headLine comes
// first and endLine last, so that half a file is seen to be half. A new member
// may be added at any time; what a member means is never changed.

const (
	exportForm    = "sextant_event"
	exportVersion = 1
)

type headLine struct {
	Type    string    `json:"type"` // exportForm
	Version int       `json:"version"`
	EventID uuid.UUID `json:"event_id"`
	MadeAt  time.Time `json:"made_at"` // the export
}

// gameLine has the file as text: its hash is over that.
type gameLine struct {
	Type string `json:"type"` // "game"
	Hash string `json:"hash"`
	Text string `json:"text"`
}

type eventLine struct {
	Type      string          `json:"type"` // "event"
	Name      string          `json:"name"`
	Zone      string          `json:"zone"`
	OurTeam   record.TeamID   `json:"our_team,omitempty"`
	GameHash  string          `json:"game_hash"`
	Overrides json.RawMessage `json:"overrides"`
	Prior     json.RawMessage `json:"prior,omitempty"`
	ChangeNo  int64           `json:"change_no"`
	DataNo    int64           `json:"data_no"`
	MadeAt    time.Time       `json:"made_at"`
	EndedAt   *time.Time      `json:"ended_at,omitempty"`
}

type teamLine struct {
	Type string `json:"type"` // "team"
	record.Team
}

// matchLine has the schedule alone; results are revisions.
type matchLine struct {
	Type     string         `json:"type"` // "match"
	Match    record.MatchID `json:"match"`
	Play     int            `json:"play"`
	StartsAt *time.Time     `json:"starts_at,omitempty"`
	Red      sideLine       `json:"red"`
	Blue     sideLine       `json:"blue"`
}

type sideLine struct {
	Teams      []record.TeamID `json:"teams"`
	Surrogates []record.TeamID `json:"surrogates,omitempty"`
}

// memberLine has no account: those belong to a server, not to an event.
type memberLine struct {
	Type      string      `json:"type"` // "member"
	MemberID  uuid.UUID   `json:"member_id"`
	Role      record.Role `json:"role"`
	Nickname  string      `json:"nickname"`
	DeviceID  string      `json:"device_id,omitempty"`
	MadeAt    time.Time   `json:"made_at"`
	RemovedAt *time.Time  `json:"removed_at,omitempty"`
}

// blobLine is a picture; in JSON its bytes are base64.
type blobLine struct {
	Type   string    `json:"type"`   // "blob"
	SHA256 string    `json:"sha256"` // in hexadecimal
	Media  string    `json:"media"`
	Bytes  []byte    `json:"bytes"`
	MadeAt time.Time `json:"made_at"`
}

// digest of the line; false: it is none.
func (l *blobLine) digest() (d Digest, ok bool) {
	n, err := hex.Decode(d[:], []byte(l.SHA256))
	return d, err == nil && n == len(d)
}

type revisionLine struct {
	Type string `json:"type"` // "revision"
	record.Revision
	MemberID   *uuid.UUID `json:"member_id,omitempty"`
	ReceivedAt time.Time  `json:"received_at"`
	Via        string     `json:"via"`
	ChangeNo   int64      `json:"change_no"`
	Audience   string     `json:"audience"`
}

// changeLine is a change that is no revision.
type changeLine struct {
	Type     string `json:"type"` // "change"
	ChangeNo int64  `json:"change_no"`
	Kind     string `json:"kind"`
	Audience string `json:"audience"`
}

type auditLine struct {
	Type     string          `json:"type"` // "audit"
	AuditID  uuid.UUID       `json:"audit_id"`
	At       time.Time       `json:"at"`
	MemberID *uuid.UUID      `json:"member_id,omitempty"`
	What     string          `json:"what"`
	Detail   json.RawMessage `json:"detail"`
}

type endLine struct {
	Type  string `json:"type"`  // "end"
	Lines int    `json:"lines"` // with this one
}
