package api

import (
	"context"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"
)

type importInput struct {
	EventPath
	PreviewQuery
	Table       string    `query:"table" enum:"teams,matches,observations,marks,picklist" doc:"What the CSV holds; not needed with NDJSON"`
	List        uuid.UUID `query:"list" format:"uuid" doc:"With picklist: the list to fill; a new one is made if absent"`
	Name        string    `query:"name" maxLength:"200" doc:"Name of the file, for messages; with picklist also of a new list"`
	ContentType string    `header:"Content-Type" hidden:"true"`
	RawBody     []byte    `contentType:"text/csv"`
}

type exportInput struct {
	EventPath
	Form  string    `query:"form" enum:"csv,ndjson" default:"csv"`
	Table string    `query:"table" enum:"teams,matches,observations,marks,picklist" doc:"Absent: all of them in a zip file"`
	List  uuid.UUID `query:"list" format:"uuid" doc:"With picklist: which list"`
}

func (s *Server) importData(ctx context.Context, in *importInput) (*reportOutput, error) {
	return nil, errNotReady
}

func (s *Server) exportData(ctx context.Context, in *exportInput) (*huma.StreamResponse, error) {
	return nil, errNotReady
}
