package api

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// The range of sync protocols that this server speaks.
const (
	protocolMin = 1
	protocolMax = 1
)

// sentRevision is a revision as a device sends it; who made it follows from
// the session.
type sentRevision struct {
	RevisionID uuid.UUID       `json:"revision_id" doc:"UUIDv7 made on the device"`
	RecordID   uuid.UUID       `json:"record_id"`
	Parents    []uuid.UUID     `json:"parents" doc:"Heads that this revision was made from; empty for the first"`
	Kind       string          `json:"kind" enum:"observation,result,mark,list,entry,note"`
	Lamport    int64           `json:"lamport" minimum:"1"`
	MadeAt     time.Time       `json:"made_at"`
	Body       json.RawMessage `json:"body"`
}

// pushRequest is documented here and decoded item by item, so that one bad
// item never takes the others with it.
type pushRequest struct {
	Protocol int            `json:"protocol" doc:"Protocol that the device speaks"`
	Device   string         `json:"device" maxLength:"100"`
	Items    []sentRevision `json:"items" maxItems:"500"`
}

type pushInput struct {
	EventPath
	RawBody []byte `contentType:"application/json"`
}

// outcome says what became of one item, in the order they were sent.
type outcome struct {
	RevisionID string   `json:"revision_id" doc:"As sent; empty if it could not be read"`
	Outcome    string   `json:"outcome" enum:"stored,known,refused"`
	Problem    *problem `json:"problem,omitempty" doc:"Why it was refused"`
}

type pushOutput struct {
	Body struct {
		Protocol protocolRange `json:"protocol"`
		Items    []outcome     `json:"items"`
		ChangeNo int64         `json:"change_no" doc:"Number of the last change of the event after this request"`
	}
}

// revision describes record.Revision in the OpenAPI document.
type revision struct {
	RevisionID uuid.UUID       `json:"revision_id"`
	RecordID   uuid.UUID       `json:"record_id"`
	Parents    []uuid.UUID     `json:"parents"`
	Kind       string          `json:"kind" enum:"observation,result,mark,list,entry,note"`
	Lamport    int64           `json:"lamport"`
	Author     string          `json:"author" doc:"Nickname"`
	Role       string          `json:"role" enum:"lead,coach,scout"`
	DeviceID   string          `json:"device_id"`
	MadeAt     time.Time       `json:"made_at"`
	Body       json.RawMessage `json:"body"`
}

// feedItem is one change. Kind "record" carries the revision, the others say
// what to fetch again.
type feedItem struct {
	ChangeNo int64            `json:"change_no"`
	Kind     string           `json:"kind" enum:"record,event,game,teams,matches,members"`
	RecordID *uuid.UUID       `json:"record_id,omitempty"`
	Revision *record.Revision `json:"revision,omitempty"`
}

type pullInput struct {
	EventPath
	After int64 `query:"after" minimum:"0" doc:"next of the last answer; 0 for the start"`
	Limit int   `query:"limit" minimum:"1" maximum:"1000" default:"500"`
}

type pullOutput struct {
	Body struct {
		Protocol protocolRange `json:"protocol"`
		Items    []feedItem    `json:"items"`
		Next     int64         `json:"next" doc:"after of the next request; there is more while items is not empty"`
		Reset    bool          `json:"reset,omitempty" doc:"The event was restored: forget what was fetched (never what is unsent) and start at 0"`
	}
}

func (s *Server) push(ctx context.Context, in *pushInput) (*pushOutput, error) {
	return nil, errNotReady
}

func (s *Server) pull(ctx context.Context, in *pullInput) (*pullOutput, error) {
	return nil, errNotReady
}
