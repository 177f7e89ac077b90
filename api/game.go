package api

import (
	"bytes"
	"cmp"
	"context"
	"errors"

	"github.com/google/uuid"

	"sextant/api/transfer"
	"sextant/stats/game"
)

type getGameInput struct {
	EventPath
	IfNoneMatch
}

type gameOutput struct {
	ETag string `header:"ETag"`
	Body *game.Game
}

type putGameInput struct {
	EventPath
	IfMatch
	PreviewQuery
	RawBody []byte `contentType:"application/json"`
}

func (s *Server) getGame(ctx context.Context, in *getGameInput) (*gameOutput, error) {
	g, ev, err := transfer.Game(ctx, s.opt.Store, in.Event)
	if err != nil {
		return nil, err
	}
	out := &gameOutput{ETag: etag(ev.GameHash, ev.Version), Body: g}
	return out, fresh(in.Seen, out.ETag)
}

func (s *Server) putGame(ctx context.Context, in *putGameInput) (*reportOutput, error) {
	hash, err := expected(in.Expected)
	if err != nil {
		return nil, err
	}
	g, old, err := s.checkGame(ctx, in.Event, in.RawBody)
	if in.Preview {
		return gamePreview(g, err)
	}
	if err != nil {
		return nil, err
	}
	// What was checked against must still be there.
	if _, err := s.opt.Store.SetGame(ctx, in.Event, bytes.Clone(in.RawBody), cmp.Or(hash, old)); err != nil {
		return nil, err
	}
	return gamePreview(g, nil)
}

// checkGame checks a corrected game file against the present one and the
// event's settings.
func (s *Server) checkGame(ctx context.Context, event uuid.UUID, body []byte) (g *game.Game, oldHash string, err error) {
	old, oldHash, err := transfer.GameFile(ctx, s.opt.Store, event)
	if err != nil {
		return nil, "", err
	}
	ev, err := s.opt.Store.Event(ctx, event)
	if err != nil {
		return nil, "", err
	}
	if g, err = game.Load("game.json", body); err != nil {
		return nil, "", err
	}
	if err := g.CheckUpdate(old); err != nil {
		return nil, "", err
	}
	_, _, err = g.Override("event.json", ev.Overrides)
	return g, oldHash, err
}

// gamePreview reports on a game file: rows are its actions.
func gamePreview(g *game.Game, err error) (*reportOutput, error) {
	out := &reportOutput{Body: report{Problems: []problemItem{}}}
	var problems game.Problems
	if errors.As(err, &problems) {
		out.Body.Problems = jsonItems(problems)
		return out, nil
	}
	if err != nil {
		return nil, err
	}
	out.Body.Rows, out.Body.Changed = len(g.Actions), 1
	return out, nil
}
