package api

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"sextant/api/engine"
	"sextant/stats/record"
	"sextant/stats/selection"
	"sextant/stats/worth"
)

// adviceLine is a line of the stream: one of its members.
type adviceLine struct {
	Board  *engine.SelectionBoard `json:"board,omitempty"`
	Advice *record.Advice         `json:"advice,omitempty"`
	Error  string                 `json:"error,omitempty"`
}

type adviseInput struct {
	EventPath
	Body struct {
		Our      string            `json:"our,omitempty" maxLength:"6" doc:"The team to advise; the event's own if absent"`
		Ranking  []string          `json:"ranking,omitempty" maxItems:"500" doc:"The final ranking, best first; as the results say if absent"`
		Moves    *[]selection.Move `json:"moves,omitempty" maxItems:"2000" doc:"A selection to rehearse; the event's records if absent"`
		Pins     []worth.Pin       `json:"pins,omitempty" maxItems:"500" doc:"What is known of how others choose"`
		Never    []string          `json:"never,omitempty" maxItems:"500" doc:"Whom we never call"`
		Captains *worth.Captains   `json:"captains,omitempty" doc:"How the other captains are taken to choose"`
		SE       float64           `json:"se,omitempty" minimum:"0" maximum:"1" doc:"Stop at this standard error of differences; 0: 0.005"`
		Runs     int               `json:"runs,omitempty" minimum:"0" maximum:"20000" doc:"Worlds at most; 0: 2000"`
		Seed     uint64            `json:"seed,omitempty"`
	}
}

// adviceTime is how long a stream of advice may take.
const adviceTime = 30 * time.Second

// advise streams where the selection stands and what calls are worth.
func (s *Server) advise(ctx context.Context, in *adviseInput) (*huma.StreamResponse, error) {
	req := engine.SelectionRequest{
		Our: record.TeamID(in.Body.Our), Ranking: teamIDs(in.Body.Ranking), Moves: in.Body.Moves, Pins: in.Body.Pins,
		Never: teamIDs(in.Body.Never), SE: cmp.Or(in.Body.SE, worth.UsualSE), Runs: cmp.Or(in.Body.Runs, worth.UsualRuns), Seed: cmp.Or(in.Body.Seed, worth.UsualSeed),
	}
	if in.Body.Captains != nil {
		req.Captains = *in.Body.Captains
	}
	if _, _, err := s.engine.Model(ctx, in.Event); err != nil { // while there can be a problem
		return nil, err
	}
	return &huma.StreamResponse{Body: func(hc huma.Context) {
		hc.SetHeader("Content-Type", "application/x-ndjson")
		hc.SetHeader("Cache-Control", "no-store")
		hc.SetHeader("X-Accel-Buffering", "no") // for a proxy that would hold it back
		ctx, stop := context.WithTimeout(hc.Context(), adviceTime)
		defer stop()
		go func() {
			select {
			case <-s.draining:
				stop()
			case <-ctx.Done():
			}
		}()
		out := adviceWriter{hc}
		err := s.engine.Selection(ctx, in.Event, req, func(b *engine.SelectionBoard, a *record.Advice) error {
			return out.line(adviceLine{Board: b, Advice: a})
		})
		var bad *engine.SelectionError
		switch {
		case errors.As(err, &bad):
			err = out.line(adviceLine{Error: sentence(bad) + "."})
		case err != nil && ctx.Err() == nil:
			s.opt.Logger.ErrorContext(ctx, "advice failed", "request", requestID(ctx), "error", err)
			err = out.line(adviceLine{Error: "The advice could not be computed. The board on this device is safe; try again."})
		}
		if err != nil && !isClosed(err) {
			s.opt.Logger.DebugContext(ctx, "a stream of advice ended", "request", requestID(ctx), "error", err)
		}
	}}, nil
}

func teamIDs(in []string) []record.TeamID {
	var out []record.TeamID
	for _, t := range in {
		out = append(out, record.TeamID(t))
	}
	return out
}

// adviceWriter writes lines and sends each at once.
type adviceWriter struct{ hc huma.Context }

func (w adviceWriter) line(l adviceLine) error {
	data, err := json.Marshal(l)
	if err != nil {
		return err
	}
	if rw, ok := w.hc.BodyWriter().(http.ResponseWriter); ok {
		control := http.NewResponseController(rw)
		if err := control.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
			return err
		}
		defer func() { _ = control.Flush() }()
	}
	_, err = w.hc.BodyWriter().Write(append(data, '\n'))
	return err
}

// bracketView is each alliance's chances in the playoff.
type bracketView struct {
	Freshness
	record.Bracket
}

type bracketOutput struct {
	ETag string `header:"ETag"`
	Body bracketView
}

func (s *Server) getBracket(ctx context.Context, in *readInput) (*bracketOutput, error) {
	b, dataNo, current, err := s.engine.Bracket(ctx, in.Event)
	var bad *engine.SelectionError
	switch {
	case errors.Is(err, engine.ErrNoSelection):
		return nil, notFound.because("There are no alliances yet: finish the alliance selection first.")
	case errors.As(err, &bad):
		return nil, invalid.because(sentence(bad) + ".")
	case err != nil:
		return nil, err
	}
	rest := []any{s.engine.Key(), current}
	for _, a := range b.Alliances { // the selection may be mended, which moves no data number
		for _, t := range a.Teams {
			rest = append(rest, t)
		}
	}
	tag := etag(dataNo, rest...)
	return &bracketOutput{ETag: tag, Body: bracketView{Freshness{DataNo: dataNo, Current: current}, *b}}, fresh(in.Seen, tag)
}

// knowledgeView is what a device needs to tell worths without the server.
type knowledgeView struct {
	Freshness
	worth.Knowledge
}

type knowledgeOutput struct {
	ETag string `header:"ETag"`
	Body knowledgeView
}

func (s *Server) getKnowledge(ctx context.Context, in *readInput) (*knowledgeOutput, error) {
	k, dataNo, version, current, err := s.engine.Knowledge(ctx, in.Event)
	switch {
	case errors.Is(err, engine.ErrNoSelection):
		return nil, notFound.because("Nothing is known of the robots yet: no match was played, and nobody watched one.")
	case err != nil:
		return nil, err
	}
	tag := etag(dataNo, s.engine.Key(), version, current)
	return &knowledgeOutput{ETag: tag, Body: knowledgeView{Freshness{DataNo: dataNo, Current: current}, *k}}, fresh(in.Seen, tag)
}
