package api

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/google/uuid"

	"sextant/api/auth"
	"sextant/api/live"
)

// changeMessage is the data of a server-sent event named "change".
type changeMessage struct {
	ChangeNo int64 `json:"change_no"`
}

// analysisMessage is the data of a server-sent event named "analysis".
type analysisMessage struct {
	What   string `json:"what" enum:"estimates,standings,calibration,truth" doc:"What it is of. estimates: also forecasts, judgements and all that is made of them when it is asked for"`
	DataNo int64  `json:"data_no"`
}

type changesInput struct {
	EventPath
	LastEventID int64 `header:"Last-Event-ID" minimum:"0" doc:"Number of the last change that was seen"`
}

const (
	writeTimeout = 10 * time.Second // for each message of a stream
	retryAfter   = 3 * time.Second  // after which a browser connects again
)

// changes keeps a stream open that tells a browser when to fetch.
func (s *Server) changes(ctx context.Context, in *changesInput) (*huma.StreamResponse, error) {
	v := viewerOf(ctx)
	sub := s.hub.Subscribe(v.eventID)
	now, err := s.opt.Store.ChangeNo(ctx, v.eventID)
	if err != nil {
		sub.Close()
		return nil, err
	}
	return &huma.StreamResponse{Body: func(hc huma.Context) {
		defer sub.Close()
		c := humaecho.Unwrap(hc)
		h := c.Response().Header()
		h.Set("Content-Type", "text/event-stream")
		h.Set("Cache-Control", "no-store")
		h.Set("X-Accel-Buffering", "no") // for a proxy that would hold it back
		st := &stream{server: s, viewer: v, out: c.Response(), control: http.NewResponseController(c.Response()), seen: in.LastEventID}
		if err := st.run(hc.Context(), sub, now); err != nil && !isClosed(err) {
			s.opt.Logger.DebugContext(hc.Context(), "a stream ended", "request", requestID(hc.Context()), "error", err)
		}
	}}, nil
}

// stream is one browser's stream of server-sent events.
type stream struct {
	server  *Server
	viewer  viewer
	out     http.ResponseWriter
	control *http.ResponseController
	seen    int64 // the last change that the browser knows of
}

// run sends until the browser leaves, the session ends or the server stops.
func (st *stream) run(ctx context.Context, sub *live.Subscription, now int64) error {
	if err := st.write(fmt.Sprintf("retry: %d\n\n", retryAfter.Milliseconds())); err != nil {
		return err
	}
	if now < st.seen {
		st.seen = 0 // the event was restored: let the browser ask, and be told
	}
	if err := st.change(ctx, now); err != nil {
		return err
	}
	beat := time.NewTicker(st.server.opt.Heartbeat)
	defer beat.Stop()
	for {
		var err error
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-st.server.draining:
			return nil
		case m, ok := <-sub.C:
			if !ok {
				return nil // too slow; the browser connects again
			}
			err = st.tell(ctx, m)
		case <-beat.C:
			err = st.beat(ctx)
		}
		if err != nil {
			return err
		}
	}
}

func (st *stream) tell(ctx context.Context, m live.Message) error {
	switch {
	case m.Kind == live.Change:
		return st.change(ctx, m.No)
	case st.viewer.is(auth.Scout):
		return nil // a scout does not learn that there is an analysis
	}
	return st.write(fmt.Sprintf("event: analysis\ndata: {\"what\":%q,\"data_no\":%d}\n\n", m.What, m.No))
}

// change tells the newest change that the viewer may see, if it is news.
func (st *stream) change(ctx context.Context, no int64) error {
	if st.viewer.is(auth.Scout) {
		var err error
		if no, err = st.visible(ctx); err != nil {
			return err
		}
	}
	if no <= st.seen {
		return nil
	}
	st.seen = no
	return st.write(fmt.Sprintf("id: %d\nevent: change\ndata: {\"change_no\":%d}\n\n", no, no))
}

// visible is the newest change that a scout may see.
func (st *stream) visible(ctx context.Context) (int64, error) {
	no := st.seen
	for {
		items, _, _, err := st.server.opt.Store.Since(ctx, st.viewer.eventID, no, 1000, st.viewer.stored())
		if err != nil || len(items) == 0 {
			return no, err
		}
		no = items[len(items)-1].ChangeNo
	}
}

// beat keeps the connection open and notices that the session, or an
// account's part in the event, has ended.
func (st *stream) beat(ctx context.Context) error {
	v, db := st.viewer, st.server.opt.Store
	if _, err := db.Session(ctx, v.cookie.event, auth.HashToken(v.cookie.token)); err != nil {
		return err
	}
	if v.accountID != uuid.Nil {
		if _, err := db.MemberOfAccount(ctx, v.eventID, v.accountID); err != nil {
			return err
		}
	}
	return st.write(": still here\n\n")
}

// write sends one message, or gives up on a browser that does not read.
func (st *stream) write(message string) error {
	if err := st.control.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
		return err
	}
	if _, err := st.out.Write([]byte(message)); err != nil {
		return err
	}
	return st.control.Flush()
}
