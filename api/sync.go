package api

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/api/transfer"
	"sextant/stats/record"
	"sextant/store"
)

// The range of sync protocols that this server speaks.
const (
	protocolMin = 1
	protocolMax = 1
)

var protocol = protocolRange{Min: protocolMin, Max: protocolMax}

// maxItems bounds the revisions of one request.
const maxItems = 500

// sentRevision is a revision as a device sends it; who made it follows from
// the session.
type sentRevision struct {
	RevisionID uuid.UUID       `json:"revision_id" doc:"UUIDv7 made on the device"`
	RecordID   uuid.UUID       `json:"record_id"`
	Parents    []uuid.UUID     `json:"parents" doc:"Heads that this revision was made from; empty for the first"`
	Kind       string          `json:"kind" enum:"observation,result,mark,list,entry,note,question,training,judgement,selection,rota,seat,pit,sketch,agreement,debrief,playoff,pin,rehearsal"`
	Lamport    int64           `json:"lamport" minimum:"1"`
	MadeAt     time.Time       `json:"made_at"`
	Body       json.RawMessage `json:"body"`
	From       *maker          `json:"from,omitempty" doc:"From a lead only: who made it, where somebody else brings it in. The history names both"`
}

// maker is who made a revision, where it is not who sends it.
type maker struct {
	Author   string `json:"author" maxLength:"200" doc:"Nickname"`
	Role     string `json:"role" enum:"lead,coach,scout"`
	DeviceID string `json:"device_id" maxLength:"100"`
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
	Kind       string          `json:"kind" enum:"observation,result,mark,list,entry,note,question,training,judgement,selection,rota,seat,pit,sketch,agreement,debrief,playoff,pin,rehearsal"`
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

// received is a pushRequest whose items are not decoded yet.
type received struct {
	Protocol int               `json:"protocol"`
	Device   string            `json:"device"`
	Items    []json.RawMessage `json:"items"`
}

func (s *Server) push(ctx context.Context, in *pushInput) (*pushOutput, error) {
	if viewerOf(ctx).is(auth.Out) {
		return nil, s.hold(ctx, in)
	}
	req, err := readPush(in.RawBody)
	if err != nil {
		return nil, err
	}
	g, _, err := transfer.Game(ctx, s.opt.Store, in.Event)
	if err != nil {
		return nil, err
	}
	door := newDoor(s.opt.Store, viewerOf(ctx), g, req.Device)
	incoming, outcomes, err := door.check(ctx, req.Items)
	if err != nil {
		return nil, err
	}
	out := &pushOutput{}
	out.Body.Protocol, out.Body.Items = protocol, outcomes
	stored, changeNo, err := s.opt.Store.Append(ctx, in.Event, incoming)
	if err != nil {
		return nil, err
	}
	s.noteOrigin(ctx)
	out.Body.ChangeNo = changeNo
	fillOutcomes(outcomes, stored)
	return out, nil
}

// readPush reads the request around the items.
func readPush(body []byte) (received, error) {
	var req received
	if err := json.Unmarshal(body, &json.RawMessage{}); err != nil {
		return req, strictJSON(body, &req) // names the place
	}
	if err := decodeStrictly(body, &req); err != nil {
		return req, err
	}
	if req.Protocol < protocolMin || req.Protocol > protocolMax {
		return req, unknownProtocol.because(fmt.Sprintf(
			"The app speaks protocol %d and the server %d to %d. Load the app again from the server; what is unsent stays on the device.",
			req.Protocol, protocolMin, protocolMax))
	}
	if err := record.CheckText(req.Device, maxDevice); err != nil {
		return req, invalid.because("/device: "+err.Error(), problemItem{Pointer: "/device", Message: err.Error()})
	}
	if len(req.Items) > maxItems {
		return req, tooLarge.because(fmt.Sprintf("%d items at once; send %d at most.", len(req.Items), maxItems))
	}
	return req, nil
}

// fillOutcomes puts the store's outcomes where nothing was refused before.
func fillOutcomes(outcomes []outcome, stored []store.Outcome) {
	next := 0
	for i := range outcomes {
		if outcomes[i].Outcome != "" {
			continue
		}
		o := stored[next]
		next++
		outcomes[i].Outcome = string(o.Verdict)
		if o.Verdict == store.Refused {
			outcomes[i].Problem = invalid.because(o.Reason)
		}
	}
}

func (s *Server) pull(ctx context.Context, in *pullInput) (*pullOutput, error) {
	items, next, reset, err := s.opt.Store.Since(ctx, in.Event, in.After, in.Limit, viewerOf(ctx).stored())
	if err != nil {
		return nil, err
	}
	out := &pullOutput{}
	out.Body.Protocol, out.Body.Next, out.Body.Reset = protocol, next, reset
	out.Body.Items = make([]feedItem, len(items))
	for i, item := range items {
		out.Body.Items[i] = feedItem{ChangeNo: item.ChangeNo, Kind: item.Kind, Revision: item.Revision}
		if item.RecordID != uuid.Nil {
			out.Body.Items[i].RecordID = &item.RecordID
		}
	}
	return out, nil
}
