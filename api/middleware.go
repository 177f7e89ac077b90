package api

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
)

// answerTimeout is how long writing an answer may take; streams set a deadline
// for each write instead.
const answerTimeout = 2 * time.Minute

type requestIDKey struct{}

// requestID returns the id of the request, or "".
func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey{}).(string)
	return id
}

// identify gives each request an id of our own making: one that a client chose
// has no place in a log.
func identify(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		id := uuid.NewString()
		c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), requestIDKey{}, id)))
		c.Response().Header().Set("X-Request-Id", id)
		return next(c)
	}
}

// observe logs and counts each request. It never logs a query, a body or a
// cookie.
func (s *Server) observe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		start := s.opt.Now()
		s.metrics.inFlight.Inc()
		defer s.metrics.inFlight.Dec()
		if err := next(c); err != nil {
			c.Error(err)
		}
		took := s.opt.Now().Sub(start)
		route, status := c.Path(), c.Response().Status
		if route == "" || route == "/*" {
			route = "static"
		}
		s.metrics.observe(c.Request().Method, route, status, took)
		level := slog.LevelInfo
		if route == "static" || route == "/healthz" || route == "/readyz" {
			level = slog.LevelDebug
		}
		s.opt.Logger.LogAttrs(c.Request().Context(), level, "request",
			slog.String("request", requestID(c.Request().Context())),
			slog.String("method", c.Request().Method),
			slog.String("route", route),
			slog.String("event", c.Param("event")),
			slog.Int("status", status),
			slog.Int64("bytes", c.Response().Size),
			slog.Int64("took_ms", took.Milliseconds()),
		)
		return nil
	}
}

// catch turns a panic into an error, which becomes an internal problem.
func (s *Server) catch() echo.MiddlewareFunc {
	return middleware.RecoverWithConfig(middleware.RecoverConfig{
		DisableErrorHandler: true,
		LogErrorFunc: func(c echo.Context, err error, stack []byte) error {
			s.opt.Logger.ErrorContext(c.Request().Context(), "a request panicked",
				"request", requestID(c.Request().Context()), "error", err, "stack", string(stack))
			return err
		},
	})
}

// The headers that every answer has. The app's own rules for scripts and
// styles stand in its page (hashes change with each build); what cannot stand
// in a page stands here.
var securityHeaders = map[string]string{
	"X-Content-Type-Options":       "nosniff",
	"Referrer-Policy":              "no-referrer",
	"X-Frame-Options":              "DENY",
	"Cross-Origin-Opener-Policy":   "same-origin",
	"Cross-Origin-Resource-Policy": "same-origin",
	"Permissions-Policy":           "camera=(self), screen-wake-lock=(self), geolocation=(), microphone=(), payment=(), usb=()",
}

const (
	appPolicy = "frame-ancestors 'none'; object-src 'none'; base-uri 'self'; form-action 'self'"
	apiPolicy = "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)

// secure sets the security headers, and keeps answers of the API out of caches
// unless the operation says otherwise.
func secure(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		for name, value := range securityHeaders {
			h.Set(name, value)
		}
		h.Set("Content-Security-Policy", appPolicy)
		if isAPI(c.Request().URL.Path) {
			h.Set("Content-Security-Policy", apiPolicy)
			h.Set("Cache-Control", "private, no-cache")
			h.Set("Vary", "Cookie")
		}
		return next(c)
	}
}

// sameOrigin refuses requests that a browser sends for another site, beside
// the cookie's SameSite.
func (s *Server) sameOrigin(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		if err := s.origins.Check(c.Request()); err != nil {
			p := crossOrigin.because("This request came from another site, so it was refused. Open the app at its own address.")
			p.cause = err
			return p
		}
		return next(c)
	}
}

// deadline bounds the time that a slow reader can hold an answer.
func deadline(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		// A response recorder in a test has no deadlines.
		err := http.NewResponseController(c.Response()).SetWriteDeadline(time.Now().Add(answerTimeout))
		if err != nil && !errors.Is(err, http.ErrNotSupported) {
			return err
		}
		return next(c)
	}
}

// compress gzips the app and the long answers that have no ETag: one strong
// ETag may not stand for two encodings (RFC 9110, section 8.8.3.3).
func compress() echo.MiddlewareFunc {
	long := map[string]bool{
		"/api/events/:event/sync":    true,
		"/api/events/:event/records": true,
		"/api/openapi.json":          true,
		"/api/docs":                  true,
		"/*":                         true,
	}
	return middleware.GzipWithConfig(middleware.GzipConfig{
		MinLength: 1024,
		Skipper: func(c echo.Context) bool {
			return !long[c.Path()] || hasETag(c.Request().URL.Path)
		},
	})
}

// isAPI reports whether a path is the API's and not the app's.
func isAPI(path string) bool { return path == "/api" || strings.HasPrefix(path, "/api/") }

// writeProblem answers errors that no operation handled: echo's own, those of
// middleware, and panics.
func (s *Server) writeProblem(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	var he *echo.HTTPError
	p := &problem{}
	switch {
	case errors.As(err, &p):
	case errors.As(err, &he) && he.Code < http.StatusInternalServerError:
		p = kindOf(he.Code).because(map[int]string{
			http.StatusNotFound:         "There is nothing at this address. The operations of the API are listed at /api/docs.",
			http.StatusMethodNotAllowed: "This address exists, but not with the method " + c.Request().Method + ".",
		}[he.Code])
	default:
		p = s.report(c.Request().Context(), err)
	}
	p.RequestID = requestID(c.Request().Context())
	c.Response().Header().Set(echo.HeaderContentType, problemType)
	if werr := c.JSON(p.Status, p); werr != nil && !isClosed(werr) {
		s.opt.Logger.WarnContext(c.Request().Context(), "a problem could not be written", "error", werr)
	}
}

// report makes a handler's error a problem, and logs what the caller does not
// get to see.
func (s *Server) report(ctx context.Context, err error) *problem {
	p := asProblem(err)
	p.RequestID = requestID(ctx)
	if p.Status >= http.StatusInternalServerError && !isClosed(err) {
		s.opt.Logger.ErrorContext(ctx, "a request failed", "request", p.RequestID, "error", err)
	}
	return p
}
