package api

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/stats/record"
	"sextant/store"
)

// recordView is a record as it counts now.
type recordView struct {
	RecordID uuid.UUID       `json:"record_id"`
	Kind     string          `json:"kind" enum:"observation,result,mark,list,entry,note,question,training,judgement,selection,rota,seat,pit,sketch,agreement,debrief,playoff,pin,rehearsal"`
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
	Kind  string `query:"kind" enum:"observation,result,mark,list,entry,note,question,training,judgement,selection,rota,seat,pit,sketch,agreement,debrief,playoff,pin,rehearsal"`
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
	LetInBy    string    `json:"let_in_by,omitempty" doc:"Nickname of the lead who accepted it for its author"`
	ChangeNo   int64     `json:"change_no"`
}

type listRevisionsOutput struct {
	Body struct {
		Revisions []keptRevision `json:"revisions"`
	}
}

func (s *Server) listRecords(ctx context.Context, in *listRecordsInput) (*listRecordsOutput, error) {
	filter, err := filterOf(in, viewerOf(ctx))
	if err != nil {
		return nil, err
	}
	records, err := s.opt.Store.Records(ctx, in.Event, filter)
	if err != nil {
		return nil, err
	}
	out := &listRecordsOutput{}
	out.Body.Records = make([]recordView, len(records))
	for i, r := range records {
		out.Body.Records[i] = viewOfRecord(r)
	}
	return out, nil
}

// filterOf says which records are wanted: a scout's are the own ones.
func filterOf(in *listRecordsInput, v viewer) (store.Filter, error) {
	f := store.Filter{Kind: in.Kind, Team: record.TeamID(in.Team)}
	if v.is(auth.Scout) {
		f.Owner = v.memberID // and what is asked of scouts
	}
	if in.Match != "" {
		match, err := record.ParseMatch(in.Match)
		if err != nil {
			return f, invalid.because(sentence(err)+".", problemItem{Parameter: "match", Message: err.Error()})
		}
		f.Match = match
	}
	if in.Team != "" && !record.ValidTeam(in.Team) {
		return f, invalid.because("There is no such team number.", problemItem{Parameter: "team", Message: "one to five digits, with one capital letter at the end for a second robot"})
	}
	return f, nil
}

func viewOfRecord(r store.Record) recordView {
	return recordView{
		RecordID: r.ID, Kind: r.Kind, Head: r.Head, Heads: r.Heads, Conflict: r.Conflict,
		Match: r.Match.String(), Team: string(r.Team), Author: r.Author, Role: string(r.Role), MadeAt: r.MadeAt, Body: r.Body,
	}
}

func (s *Server) listRevisions(ctx context.Context, in *recordPath) (*listRevisionsOutput, error) {
	unknown := notFound.because("There is no such record, or it is none of yours.")
	r, err := s.opt.Store.Record(ctx, in.Event, in.Record)
	if v := viewerOf(ctx); errors.Is(err, store.ErrNotFound) || err == nil && v.is(auth.Scout) && r.Owner != v.memberID {
		return nil, unknown
	}
	if err != nil {
		return nil, err
	}
	revisions, err := s.opt.Store.Revisions(ctx, in.Event, in.Record)
	if err != nil {
		return nil, err
	}
	out := &listRevisionsOutput{}
	out.Body.Revisions = make([]keptRevision, len(revisions))
	for i, k := range revisions {
		out.Body.Revisions[i] = keptRevision{Revision: k.Revision, ReceivedAt: k.ReceivedAt, Via: k.Via, LetInBy: store.WhoLetIn(k.Via), ChangeNo: k.ChangeNo}
	}
	return out, nil
}
