package api

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/store"
)

// maxHeldItem bounds one item that is kept apart, in bytes; a match with a tap
// a second has a tenth of it.
const maxHeldItem = 64 << 10

// heldView is a revision of a device that was signed out, for a lead to look at.
type heldView struct {
	Author     string          `json:"author" doc:"The nickname then"`
	Role       string          `json:"role" enum:"lead,coach,scout"`
	DeviceID   string          `json:"device_id"`
	ReceivedAt time.Time       `json:"received_at"`
	Item       json.RawMessage `json:"item" doc:"The revision as it was sent, not checked; sent to sync with its from, it is accepted"`
}

type listHeldOutput struct {
	Body struct {
		Items []heldView `json:"items"`
	}
}

type dropHeldInput struct {
	EventPath
	Device string `query:"device" required:"true" maxLength:"100" doc:"device_id of what is thrown away"`
}

// hold keeps apart what a device sent whose session was ended. The answer is
// always a refusal: the device keeps what it has until it sees it in the feed.
func (s *Server) hold(ctx context.Context, in *pushInput) error {
	req, err := readPush(in.RawBody)
	if err != nil {
		return err
	}
	v := viewerOf(ctx)
	items := make([]store.Held, 0, len(req.Items))
	for _, raw := range req.Items {
		var named struct {
			RevisionID uuid.UUID `json:"revision_id"`
		}
		if json.Unmarshal(raw, &named) != nil || named.RevisionID == uuid.Nil || len(raw) > maxHeldItem {
			continue
		}
		items = append(items, store.Held{
			RevisionID: named.RevisionID, DeviceID: req.Device, MemberID: v.memberID, Author: v.nickname, Role: v.member, Item: raw,
		})
	}
	all, err := s.opt.Store.Hold(ctx, in.Event, items)
	if err != nil {
		return err
	}
	if !all || len(items) < len(req.Items) {
		return notSignedIn.because("This device was signed out. There is no more room here for what it sends; everything stays on it. Ask the lead for a new code, or give the lead a file of it.")
	}
	return keptApart.because("This device was signed out by the lead. What it sent is kept apart until the lead accepts it, and stays on the device too. Ask the lead.")
}

func (s *Server) listHeld(ctx context.Context, in *EventPath) (*listHeldOutput, error) {
	held, err := s.opt.Store.Held(ctx, in.Event)
	if err != nil {
		return nil, err
	}
	out := &listHeldOutput{}
	out.Body.Items = make([]heldView, len(held))
	for i, h := range held {
		out.Body.Items[i] = heldView{Author: h.Author, Role: string(h.Role), DeviceID: h.DeviceID, ReceivedAt: h.ReceivedAt, Item: h.Item}
	}
	return out, nil
}

func (s *Server) dropHeld(ctx context.Context, in *dropHeldInput) (*struct{}, error) {
	n, err := s.opt.Store.ThrowAway(ctx, in.Event, in.Device)
	if err != nil {
		return nil, err
	}
	s.audit(ctx, "records thrown away", map[string]any{"device_id": in.Device, "records": n})
	return nil, nil
}

// heldWarnings say to a lead where something waits to be looked at.
func (s *Server) heldWarnings(ctx context.Context, events []eventOfMember) ([]Warning, error) {
	var ids []uuid.UUID
	for _, e := range events {
		if e.Role == string(auth.Lead) {
			ids = append(ids, e.EventID)
		}
	}
	waiting, err := s.opt.Store.CountHeld(ctx, ids)
	if err != nil {
		return nil, err
	}
	var out []Warning
	for _, e := range events {
		if n := waiting[e.EventID]; n > 0 {
			what := fmt.Sprintf("%d records", n)
			if n == 1 {
				what = "One record"
			}
			out = append(out, Warning{Code: "kept_apart", Message: fmt.Sprintf(
				"%s of devices that were signed out came to %s. Look at them in Set-up, People: nothing of them counts until you accept it.", what, e.Name)})
		}
	}
	return out, nil
}
