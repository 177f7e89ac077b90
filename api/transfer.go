package api

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"sextant/api/transfer"
	"sextant/stats/record"
	"sextant/store"
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

// maxFileName bounds the name of a file in a message, in characters.
const maxFileName = 200

type restoreInput struct {
	PreviewQuery
	RawBody []byte `contentType:"application/x-ndjson"`
}

// restored says which event a file was made of.
type restored struct {
	EventID uuid.UUID `json:"event_id"`
	Name    string    `json:"name"`
	Report  report    `json:"report"`
}

type restoreOutput struct {
	Body restored
}

type exportInput struct {
	EventPath
	Form   string    `query:"form" enum:"csv,ndjson" default:"csv"`
	Table  string    `query:"table" enum:"teams,matches,observations,marks,picklist" doc:"Absent: all of them in a zip file"`
	List   uuid.UUID `query:"list" format:"uuid" doc:"With picklist: which list"`
	Redact []string  `query:"redact" enum:"people,strategy" doc:"What to leave out, with commas between. people: nicknames become s01, s02, …, and what scouts typed freely goes. strategy: lists, notes, questions, judgements and moves go. NDJSON becomes an event of its own, with other ids"`
}

// redaction is what to leave out.
func (in *exportInput) redaction() store.Redaction {
	return store.Redaction{People: slices.Contains(in.Redact, "people"), Strategy: slices.Contains(in.Redact, "strategy")}
}

func (s *Server) importData(ctx context.Context, in *importInput) (*reportOutput, error) {
	form, err := media(in.ContentType)
	if err != nil {
		return nil, err
	}
	out, err := s.takeIn(ctx, in, form)
	if err != nil {
		return refuse(in.Preview, err)
	}
	if !in.Preview {
		s.audit(ctx, "import", map[string]any{"table": in.Table, "form": form, "rows": out.Body.Rows, "added": out.Body.Added, "changed": out.Body.Changed})
	}
	return out, nil
}

// takeIn imports a body by its form and table.
func (s *Server) takeIn(ctx context.Context, in *importInput, form string) (*reportOutput, error) {
	name := in.Name
	if name == "" || record.CheckText(name, maxFileName) != nil {
		name = in.Table + ".csv"
	}
	switch {
	case form == mediaNDJSON:
		return s.importArchive(ctx, in)
	case form != mediaCSV:
		return nil, wrongMedia.because("Send a table as text/csv or a whole event as application/x-ndjson, not as " + form + ".")
	case in.Table == "":
		return nil, invalid.because("Say which table this is: teams, matches, observations, marks or picklist.", problemItem{Parameter: "table", Message: "it is missing"})
	}
	done, err := transfer.Import(ctx, s.opt.Store, in.Event, transfer.File{
		Table: in.Table, Name: name, Title: strings.TrimSuffix(name, ".csv"), Body: in.RawBody, List: in.List, By: viewerOf(ctx).by("import"), DryRun: in.Preview,
	})
	if err != nil {
		return nil, err
	}
	out := &reportOutput{Body: reported(done)}
	for _, o := range done.Refused {
		out.Body.Problems = append(out.Body.Problems, problemItem{File: name, Message: o.Reason})
	}
	return out, nil
}

// importArchive takes revisions and members of an export into the event that
// it was made of.
func (s *Server) importArchive(ctx context.Context, in *importInput) (*reportOutput, error) {
	done, err := s.opt.Store.ImportNDJSON(ctx, bytes.NewReader(in.RawBody), store.Import{Into: in.Event, DryRun: in.Preview})
	if errors.Is(err, store.ErrInvalid) {
		return nil, invalid.because("This file was made of another event. Restore it as an event of its own instead.", problemItem{File: in.Name, Message: "another event"})
	}
	if err != nil {
		return nil, err
	}
	return &reportOutput{Body: reportedArchive(done)}, nil
}

func reportedArchive(done store.Imported) report {
	r := report{Rows: done.Revisions + done.Known + len(done.Refused), Added: done.Revisions, Problems: []problemItem{}}
	for _, o := range done.Refused {
		r.Problems = append(r.Problems, problemItem{Message: o.RevisionID.String() + ": " + o.Reason})
	}
	return r
}

func (s *Server) restoreEvent(ctx context.Context, in *restoreInput) (*restoreOutput, error) {
	v := viewerOf(ctx)
	done, err := s.opt.Store.ImportNDJSON(ctx, bytes.NewReader(in.RawBody), store.Import{AccountID: v.accountID, Nickname: v.nickname, DryRun: in.Preview})
	if errors.Is(err, store.ErrExists) {
		return nil, alreadyThere.because("The event of this file is on this server already. Open it and import the file there.")
	}
	if err != nil {
		return nil, err
	}
	return &restoreOutput{Body: restored{EventID: done.Event.ID, Name: done.Event.Name, Report: reportedArchive(done)}}, nil
}

func (s *Server) exportData(ctx context.Context, in *exportInput) (*huma.StreamResponse, error) {
	ev, err := s.opt.Store.Event(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	if in.Form == "ndjson" {
		return s.download(transfer.FileName(ev.Name, "ndjson"), mediaNDJSON, func(w io.Writer) error {
			return s.opt.Store.ExportRedacted(ctx, in.Event, in.redaction(), w)
		}), nil
	}
	if in.Table == "" {
		zipped, err := transfer.All(ctx, s.opt.Store, in.Event, in.redaction())
		return s.download(transfer.FileName(ev.Name, "zip"), "application/zip", content(zipped).copyTo), err
	}
	csv, err := transfer.Table(ctx, s.opt.Store, in.Event, in.Table, in.List, in.redaction())
	return s.download(in.Table+".csv", mediaCSV+"; charset=utf-8", content(csv).copyTo), err
}

// content is a file that was made in memory.
type content []byte

func (c content) copyTo(w io.Writer) error {
	_, err := w.Write(c)
	return err
}

// download answers with a file. If writing fails in the middle, the connection
// is cut, so that a half file is not taken for a whole one.
func (s *Server) download(name, media string, write func(io.Writer) error) *huma.StreamResponse {
	return &huma.StreamResponse{Body: func(ctx huma.Context) {
		ctx.SetHeader("Content-Type", media)
		ctx.SetHeader("Content-Disposition", `attachment; filename="`+name+`"`)
		if err := write(ctx.BodyWriter()); err != nil {
			if !isClosed(err) {
				s.opt.Logger.ErrorContext(ctx.Context(), "a download broke off", "request", requestID(ctx.Context()), "error", err)
			}
			panic(http.ErrAbortHandler)
		}
	}}
}
