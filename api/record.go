package api

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// recordView is a record as it counts now.
type recordView struct {
	RecordID uuid.UUID       `json:"record_id"`
	Kind     string          `json:"kind" enum:"observation,result,mark,list,entry,note"`
	Head     uuid.UUID       `json:"head" doc:"The revision that counts"`
	Heads    []uuid.UUID     `json:"heads,omitempty" doc:"All revisions that nothing followed; more than one is a conflict for whole records"`
	Conflict bool            `json:"conflict"`
	Match    string          `json:"match,omitempty"`
	Team     string          `json:"team,omitempty"`
	Author   string          `json:"author"`
	Role     string          `json:"role" enum:"lead,coach,scout"`
	MadeAt   time.Time       `json:"made_at"`
	Body     json.RawMessage `json:"body"`
}

type listRecordsInput struct {
	EventPath
	Kind  string `query:"kind" enum:"observation,result,mark,list,entry,note"`
	Match string `query:"match" maxLength:"5"`
	Team  string `query:"team" maxLength:"6"`
}

type listRecordsOutput struct {
	Body struct {
		Records []recordView `json:"records"`
	}
}

type recordPath struct {
	EventPath
	Record uuid.UUID `path:"record" format:"uuid"`
}

// keptRevision is a revision and how it came here.
type keptRevision struct {
	record.Revision
	ReceivedAt time.Time `json:"received_at"`
	Via        string    `json:"via" doc:"The door it came through"`
	ChangeNo   int64     `json:"change_no"`
}

type listRevisionsOutput struct {
	Body struct {
		Revisions []keptRevision `json:"revisions"`
	}
}

func (s *Server) listRecords(ctx context.Context, in *listRecordsInput) (*listRecordsOutput, error) {
	return nil, errNotReady
}

func (s *Server) listRevisions(ctx context.Context, in *recordPath) (*listRevisionsOutput, error) {
	return nil, errNotReady
}
