package api

import (
	"context"

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
	return nil, errNotReady
}

func (s *Server) putGame(ctx context.Context, in *putGameInput) (*reportOutput, error) {
	return nil, errNotReady
}
