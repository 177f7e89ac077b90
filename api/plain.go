package api

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/labstack/echo/v4"

	"sextant/api/auth"
	"sextant/stats/game"
)

// plainRoutes are those without types: documents, health and the app. Anybody
// may read them.
func (s *Server) plainRoutes(e *echo.Echo) {
	open := func(id, path string, handler echo.HandlerFunc) {
		if !auth.Allowed(id, auth.Nobody) {
			panic(fmt.Sprintf("route %s must be open to everybody in the table of api/auth", id))
		}
		e.GET(path, handler)
	}
	schema := game.Schema()
	open("get-openapi", "/api/openapi.json", func(c echo.Context) error {
		return c.Blob(http.StatusOK, "application/vnd.oai.openapi+json; charset=utf-8", s.document)
	})
	open("get-docs", "/api/docs", s.getDocs)
	open("get-game-schema", "/api/schema/game.json", func(c echo.Context) error {
		return c.Blob(http.StatusOK, "application/schema+json; charset=utf-8", schema)
	})
	open("get-health", "/healthz", func(c echo.Context) error { return c.String(http.StatusOK, "alive\n") })
	open("get-readiness", "/readyz", s.getReadiness)
	open("get-app", "/*", s.app.serve)
	e.HEAD("/*", s.app.serve)
}

// getReadiness says whether requests can be answered now.
func (s *Server) getReadiness(c echo.Context) error {
	select {
	case <-s.draining:
		return unavailable.because("The server is shutting down.")
	default:
	}
	ctx, cancel := context.WithTimeout(c.Request().Context(), 2*time.Second)
	defer cancel()
	if err := s.opt.Store.Ping(ctx); err != nil {
		p := unavailable.because("The database does not answer.")
		p.cause = err
		return p
	}
	return c.String(http.StatusOK, "ready\n")
}

// addressOf is the address of whoever makes the request.
func addressOf(ctx context.Context) string {
	address, _ := ctx.Value(addressKey{}).(string)
	return address
}

type addressKey struct{}

// withAddress notes the client's address for handlers, which see no request.
func withAddress(ctx huma.Context, next func(huma.Context)) {
	next(huma.WithValue(ctx, addressKey{}, humaecho.Unwrap(ctx).RealIP()))
}

func ipNet(ip netip.Addr, bits int) *net.IPNet {
	return &net.IPNet{IP: ip.AsSlice(), Mask: net.CIDRMask(bits, ip.BitLen())}
}
