package api

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"sync"
	"sync/atomic"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"

	"sextant/api/auth"
	"sextant/api/engine"
	"sextant/api/hall"
	"sextant/api/live"
	"sextant/store"
)

// Options configure a Server. Store is needed; the rest has defaults.
type Options struct {
	Store  *store.DB
	Logger *slog.Logger     // nil: silent
	Now    func() time.Time // nil: time.Now
	App    fs.FS            // the built web app; nil: none
	// PublicURL is the address at which browsers open the app, when that is not
	// the address of this process, as behind a proxy. With https, cookies are
	// sent over TLS only.
	PublicURL string
	// TrustedProxies may say in X-Forwarded-For who the client is and in
	// X-Forwarded-Proto that it came over TLS.
	TrustedProxies []netip.Prefix
	// Hall is where tablets learn to trust this server; nil: it has no
	// authority of its own.
	Hall *Hall
	// Warnings are what the lead should know about the machine now; nil: none.
	Warnings func() []Warning
	// Collectors are further metrics.
	Collectors []prometheus.Collector
	// Build names the build of the program; see engine.Options.
	Build string
	// Settle is how long the engine waits after a change for more; 0: 25 ms.
	Settle time.Duration
	// Pause is how long the engine leaves the cores to those who fetch new estimates
	// before it makes what takes long; 0: 1 s.
	Pause time.Duration
	// Poll is how often changes of other processes are looked for when the
	// database's notifications do not arrive; 0: 2 s.
	Poll time.Duration
	// Heartbeat is how often a stream shows that it is alive, and how soon it
	// ends when its session has ended; 0: 15 s.
	Heartbeat time.Duration
}

// Server answers the API's requests and serves the app.
type Server struct {
	opt      Options
	echo     *echo.Echo
	docs     []byte // the page /api/docs
	document []byte // /api/openapi.json
	app      *app
	secure   bool   // cookies over TLS only
	origin   string // of PublicURL; "": not known
	noted    atomic.Int64
	origins  *http.CrossOriginProtection
	limiter  *auth.Limiter
	hub      *live.Hub
	engine   *engine.Engine
	metrics  *metrics
	draining chan struct{} // closed when streams must end
	drain    sync.Once
}

// New returns a Server. Run makes live updates work; Close ends it.
func New(opt Options) (*Server, error) {
	if opt.Logger == nil {
		opt.Logger = slog.New(slog.DiscardHandler)
	}
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Settle == 0 {
		opt.Settle = 25 * time.Millisecond
	}
	if opt.Pause == 0 {
		opt.Pause = time.Second
	}
	if opt.Heartbeat == 0 {
		opt.Heartbeat = 15 * time.Second
	}
	if opt.Poll == 0 {
		opt.Poll = 2 * time.Second
	}
	s := &Server{
		opt: opt, limiter: auth.NewLimiter(opt.Now), hub: live.New(opt.Logger),
		origins: http.NewCrossOriginProtection(), draining: make(chan struct{}),
	}
	s.metrics = newMetrics(s.hub.Subscribers, opt.Collectors...)
	if err := s.trustPublicURL(); err != nil {
		return nil, err
	}
	var err error
	if s.app, err = newApp(opt.App); err != nil {
		return nil, err
	}
	s.engine = engine.New(engine.Options{
		Store: opt.Store, Logger: opt.Logger, Settle: opt.Settle, Pause: opt.Pause, Build: opt.Build, Took: s.metrics.analysed,
		Done: func(event uuid.UUID, what engine.Part, dataNo int64) {
			s.hub.Publish(event, live.Message{Kind: live.Analysis, What: string(what), No: dataNo})
		},
	})
	return s, s.build()
}

// trustPublicURL takes the app's public address for an own origin.
func (s *Server) trustPublicURL() error {
	if s.opt.PublicURL == "" {
		return nil
	}
	u, err := url.Parse(s.opt.PublicURL)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || u.Path != "" && u.Path != "/" {
		return fmt.Errorf("the public address %q is not of the form https://name:port", s.opt.PublicURL)
	}
	s.secure, s.origin = u.Scheme == "https", hall.Origin(s.opt.PublicURL)
	return s.origins.AddTrustedOrigin(u.Scheme + "://" + u.Host)
}

// build puts the routes together.
func (s *Server) build() error {
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.HTTPErrorHandler = s.writeProblem
	e.IPExtractor = echo.ExtractIPDirect()
	if len(s.opt.TrustedProxies) > 0 {
		e.IPExtractor = extractForwarded(s.opt.TrustedProxies)
	}
	e.Use(identify, s.observe, s.catch(), secure, deadline, s.sameOrigin, compress())

	a := humaecho.New(e, config())
	a.UseMiddleware(s.withAddress, s.authorize)
	s.routes(a)
	s.echo = e
	s.plainRoutes(e)
	return s.describe(a.OpenAPI())
}

// extractForwarded believes X-Forwarded-For from these addresses only.
func extractForwarded(proxies []netip.Prefix) echo.IPExtractor {
	trust := []echo.TrustOption{echo.TrustLoopback(false), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		ip := p.Addr()
		trust = append(trust, echo.TrustIPRange(ipNet(ip, p.Bits())))
	}
	return echo.ExtractIPFromXFFHeader(trust...)
}

// Handler answers requests.
func (s *Server) Handler() http.Handler { return s.echo }

// Metrics answers with Prometheus metrics. It is for loopback only.
func (s *Server) Metrics() http.Handler { return s.metrics.handler() }

// Run follows the changes of events that browsers listen to, until ctx ends.
func (s *Server) Run(ctx context.Context) error {
	err := s.opt.Store.Follow(ctx, s.opt.Poll, s.hub.Wanted, func(event uuid.UUID, changeNo int64) {
		s.hub.Publish(event, live.Message{Kind: live.Change, No: changeNo})
		s.engine.Touch(event)
	})
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// Drain makes the server not ready and ends all streams, so that it can be
// shut down. It may be called twice.
func (s *Server) Drain() { s.drain.Do(func() { close(s.draining) }) }

// Close ends what runs in the background. Call Drain and stop serving first.
func (s *Server) Close() {
	s.Drain()
	s.engine.Close()
}

// apiOf describes the routes without a store; nothing in it can be called.
func apiOf() huma.API {
	a := humaecho.New(echo.New(), config())
	(&Server{}).routes(a)
	return a
}
