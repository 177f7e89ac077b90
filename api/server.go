package api

import (
	"encoding/json"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/labstack/echo/v4"
)

const cookieName = "sextant_session"

// Server answers the API's requests.
type Server struct{}

// describe registers the routes of a server that is never served.
func describe() huma.API {
	a := humaecho.New(echo.New(), config())
	(&Server{}).routes(a)
	return a
}

func unmarshalJSON(data []byte, v any) error { return json.Unmarshal(data, v) }
