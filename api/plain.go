package api

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
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
	// Not for everybody's eyes in words: the lead reads those in the app.
	answer := "ready\n"
	for _, w := range s.warnings() {
		answer += "warning " + w.Code + "\n"
	}
	return c.String(http.StatusOK, answer)
}

// addressOf is the address of whoever makes the request.
func addressOf(ctx context.Context) string {
	address, _ := ctx.Value(addressKey{}).(string)
	return address
}

type (
	addressKey    struct{}
	overTLSKey    struct{}
	deviceKindKey struct{}
)

// withAddress notes for handlers, which see no request, the client's address,
// whether it came over TLS, and coarsely what device it is.
func (s *Server) withAddress(ctx huma.Context, next func(huma.Context)) {
	c := humaecho.Unwrap(ctx)
	ctx = huma.WithValue(ctx, addressKey{}, c.RealIP())
	ctx = huma.WithValue(ctx, deviceKindKey{}, deviceKind(c.Request().UserAgent()))
	next(huma.WithValue(ctx, overTLSKey{}, s.overTLS(c.Request())))
}

// overTLS reports whether a request came to us, or to a proxy that we trust,
// over TLS. What others write into X-Forwarded-Proto counts for nothing.
func (s *Server) overTLS(r *http.Request) bool {
	if r.TLS != nil {
		return true
	}
	peer, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil || !slices.ContainsFunc(s.opt.TrustedProxies, func(p netip.Prefix) bool { return p.Contains(peer.Addr().Unmap()) }) {
		return false
	}
	said := r.Header.Get("X-Forwarded-Proto") // the last word is the trusted proxy's own
	return strings.EqualFold(strings.TrimSpace(said[strings.LastIndex(said, ",")+1:]), "https")
}

func ipNet(ip netip.Addr, bits int) *net.IPNet {
	return &net.IPNet{IP: ip.AsSlice(), Mask: net.CIDRMask(bits, ip.BitLen())}
}
