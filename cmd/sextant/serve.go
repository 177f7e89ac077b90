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
	"sextant/api/hall"
	"sextant/frontend"
	"sextant/store"
)

// serveCommand runs the server.
type serveCommand struct {
	databaseFlags
	listenFlags
	hallFlags
	logFlags
	BackupEvery time.Duration `env:"SEXTANT_BACKUP_EVERY" default:"30m" help:"Time between two back-ups of the private PostgreSQL; 0: none."`
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
	if c.TLS && c.PublicURL != "" {
		return badInput(errors.New("--tls is for a laptop that tablets reach by --name; behind a proxy that has a certificate give --public-url alone"))
	}
	if c.BackupEvery < 0 {
		return badInput(fmt.Errorf("--backup-every %s: a time of 0 or more", c.BackupEvery))
	}
	db, err := c.open(ctx, logger)
	if err != nil {
		return err
	}
	defer db.close()
	listener, err := net.Listen("tcp", c.listen())
	if err != nil {
		return badInput(fmt.Errorf("--listen: %w", err))
	}
	defer listener.Close() // again, if serving has begun, which does no harm
	w := &work{care: newCare("", logger)}
	if db.private != nil {
		w.care.dir = c.Data
		w.care.look()
	}
	opt := api.Options{
		Store: db.DB, Logger: logger, App: frontend.Dist(), PublicURL: c.PublicURL, TrustedProxies: proxies, Build: build(),
		Warnings: w.care.warnings, Collectors: w.care.collectors(),
	}
	if c.TLS {
		if w.hall, err = c.openHall(listener); err != nil {
			return err
		}
		defer w.hall.page.Close()
		w.care.authority = w.hall.authority
		opt.PublicURL, opt.Hall = w.hall.app, w.hall.told()
	}
	server, err := api.New(opt)
	if err != nil {
		return badInput(err)
	}
	defer server.Close()
	if err := greetMoved(ctx, s.Out, server); err != nil {
		return err
	}
	if w.hall != nil {
		if err := w.hall.greet(s.Out); err != nil {
			return err
		}
	}
	base := opt.PublicURL
	if base == "" {
		base = localBase(listener.Addr())
	}
	if err := greet(ctx, s.Out, db.DB, base); err != nil {
		return err
	}
	return c.serve(ctx, server, listener, db, logger, w)
}

// work is what a server does beside answering; nil: nothing.
type work struct {
	care *care
	hall *hallServer // nil: plain HTTP
}

// listen is the address to listen on.
func (c *serveCommand) listen() string {
	switch {
	case c.Listen != "":
		return c.Listen
	case c.TLS:
		return ":4180"
	}
	return "127.0.0.1:4180"
}

// attend begins what runs beside answering.
func (c *serveCommand) attend(ctx context.Context, group *errgroup.Group, db *database, logger *slog.Logger, w *work) {
	if w == nil {
		return
	}
	group.Go(func() error {
		w.care.run(ctx)
		return nil
	})
	if db.private != nil && c.BackupEvery > 0 {
		group.Go(func() error {
			c.backups().Run(ctx, db.DB, c.BackupEvery, c.backupFiles, w.care.backedUp)
			return nil
		})
	}
	if w.hall != nil {
		w.hall.serve(ctx, group, logger)
	}
}

// serve answers until ctx ends, a listener fails or the private database dies.
func (c *serveCommand) serve(ctx context.Context, server *api.Server, listener net.Listener, db *database, logger *slog.Logger, w *work) error {
	group, ctx := errgroup.WithContext(ctx)
	web := newHTTPServer(server.Handler(), logger)
	if w != nil && w.hall != nil {
		web.TLSConfig = hall.NewKeeper(w.hall.authority, hall.Addresses, time.Now).TLS()
		group.Go(func() error { return ended(web.ServeTLS(listener, "", "")) })
	} else {
		group.Go(func() error { return ended(web.Serve(listener)) })
	}
	c.attend(ctx, group, db, logger, w)
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

// localBase is the address at which the app is opened on this machine.
func localBase(a net.Addr) string {
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
