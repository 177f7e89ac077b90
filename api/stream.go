package api

import (
	"context"

	"github.com/danielgtaylor/huma/v2"
)

// changeMessage is the data of a server-sent event named "change".
type changeMessage struct {
	ChangeNo int64 `json:"change_no"`
}

type changesInput struct {
	EventPath
	LastEventID int64 `header:"Last-Event-ID" doc:"Number of the last change that was seen"`
}

func (s *Server) changes(ctx context.Context, in *changesInput) (*huma.StreamResponse, error) {
	return nil, errNotReady
}
