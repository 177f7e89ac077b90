package main

import (
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"time"

	// Time zones of events must be known on machines without a zone database.
	_ "time/tzdata"

	"golang.org/x/sync/errgroup"

	"sextant/api"
	"sextant/api/auth"
	"sextant/frontend"
	"sextant/store"
)

// serveCommand runs the server.
type serveCommand struct {
	databaseFlags
	listenFlags
	logFlags
}

// The server's patience with a client, and with requests at its end. There is
// no WriteTimeout, because of streams: package api sets a deadline for each
// answer and for each message.
const (
	headerTimeout   = 10 * time.Second
	idleTimeout     = 2 * time.Minute
	shutdownTimeout = 15 * time.Second
	headerBytes     = 32 << 10
)

// Run serves until ctx ends.
func (c *serveCommand) Run(ctx context.Context, s *streams) error {
	logger := c.logger(s.Err)
	proxies, err := c.proxies()
	if err != nil {
		return err
	}
	db, err := c.open(ctx, logger)
	if err != nil {
		return err
	}
	defer db.close()
	server, err := api.New(api.Options{
		Store: db.DB, Logger: logger, App: frontend.Dist(), PublicURL: c.PublicURL, TrustedProxies: proxies, Build: build(),
	})
	if err != nil {
		return badInput(err)
	}
	defer server.Close()
	listener, err := net.Listen("tcp", c.Listen)
	if err != nil {
		return badInput(fmt.Errorf("--listen: %w", err))
	}
	base := c.base(listener.Addr())
	if err := greet(ctx, s.Out, db.DB, base); err != nil {
		return errors.Join(err, listener.Close())
	}
	return c.serve(ctx, server, listener, db, logger)
}

// serve answers until ctx ends, a listener fails or the private database dies.
func (c *serveCommand) serve(ctx context.Context, server *api.Server, listener net.Listener, db *database, logger *slog.Logger) error {
	group, ctx := errgroup.WithContext(ctx)
	web := newHTTPServer(server.Handler(), logger)
	group.Go(func() error { return ended(web.Serve(listener)) })
	group.Go(func() error { return server.Run(ctx) })
	group.Go(func() error {
		select {
		case <-db.gone():
			return errors.New("the private PostgreSQL has ended by itself; see its log in the data folder")
		case <-ctx.Done():
			return nil
		}
	})
	metrics, err := c.serveMetrics(group, server, logger)
	if err != nil {
		return errors.Join(err, web.Close())
	}
	group.Go(func() error {
		<-ctx.Done()
		logger.Info("shutting down")
		server.Drain() // or streams would hold the shutdown up
		end, cancel := context.WithTimeout(context.Background(), shutdownTimeout)
		defer cancel()
		return errors.Join(web.Shutdown(end), metrics.Shutdown(end))
	})
	return group.Wait()
}

// serveMetrics serves metrics to this machine. A port that is taken is no
// reason not to serve the event.
func (c *serveCommand) serveMetrics(group *errgroup.Group, server *api.Server, logger *slog.Logger) (*http.Server, error) {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", server.Metrics())
	metrics := newHTTPServer(mux, logger)
	if c.MetricsListen == "" {
		return metrics, nil
	}
	if err := loopback(c.MetricsListen); err != nil {
		return metrics, err
	}
	listener, err := net.Listen("tcp", c.MetricsListen)
	if err != nil {
		logger.Warn("there are no metrics", "error", err)
		return metrics, nil
	}
	group.Go(func() error { return ended(metrics.Serve(listener)) })
	return metrics, nil
}

func newHTTPServer(h http.Handler, logger *slog.Logger) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: headerTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: headerBytes,
		ErrorLog: slog.NewLogLogger(logger.Handler(), slog.LevelDebug),
	}
}

// ended tells a server that was shut down from one that failed.
func ended(err error) error {
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// base is the address at which the app is opened.
func (c *serveCommand) base(a net.Addr) string {
	if c.PublicURL != "" {
		return c.PublicURL
	}
	host, port, err := net.SplitHostPort(a.String())
	if err != nil {
		return "http://" + a.String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// greet prints where the app is and, as long as there is no account, a link
// that makes the first one. Its secret is new at each start, stands in the
// fragment, which is never sent to a server or a log, and works once.
func greet(ctx context.Context, out io.Writer, db *store.DB, base string) error {
	done, err := db.HasAccount(ctx)
	if err != nil {
		return err
	}
	if !done {
		secret := auth.NewToken()
		if err := db.SetSetting(ctx, store.SettingSetup, hex.EncodeToString(auth.HashToken(secret))); err != nil {
			return err
		}
		if _, err := fmt.Fprintf(out, "Make the first account with this link, which works once:\n%s/set-up#%s\n", base, secret); err != nil {
			return err
		}
	}
	_, err = fmt.Fprintf(out, "Sextant is at %s\n", base)
	return err
}
