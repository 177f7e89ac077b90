package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"path/filepath"
	"strconv"
	"time"

	"golang.org/x/sync/errgroup"

	"sextant/api"
	"sextant/api/hall"
)

// hallFlags make a laptop a server that tablets in the hall can trust.
type hallFlags struct {
	TLS      bool   `name:"tls" env:"SEXTANT_TLS" help:"Serve over TLS with an own certificate authority, which tablets install once: so they work offline."`
	Name     string `env:"SEXTANT_NAME" default:"sextant.local" help:"Name for --tls that tablets open, always the same one. A name in .local is announced on the local network."`
	HTTPPort int    `name:"http-port" env:"SEXTANT_HTTP_PORT" default:"4182" help:"Port of the page for --tls that explains and hands out the authority's certificate over plain HTTP; 0 takes a free one."`
}

// hallServer is what --tls adds to the server.
type hallServer struct {
	authority *hall.Authority
	made      hall.Made
	app       string // address of the app
	page      net.Listener
	handler   http.Handler
	lan       bool // others can reach it, so the name is announced
}

// openHall makes or reads the authority, and listens for the page.
func (c *serveCommand) openHall(app net.Listener) (_ *hallServer, err error) {
	name, err := hall.CheckName(c.Name)
	if err != nil {
		return nil, badInput(fmt.Errorf("--name: %w", err))
	}
	h := &hallServer{}
	if h.authority, h.made, err = hall.Open(filepath.Join(c.Data, filepath.FromSlash(authorityFile)), name, time.Now()); err != nil {
		return nil, badInput(err)
	}
	at := app.Addr().(*net.TCPAddr)
	h.lan = !at.IP.IsLoopback()
	h.app = hall.Origin("https://" + net.JoinHostPort(name, strconv.Itoa(at.Port)))
	host, _, err := net.SplitHostPort(c.listen())
	if err != nil {
		return nil, badInput(fmt.Errorf("--listen: %w", err))
	}
	if h.page, err = net.Listen("tcp", net.JoinHostPort(host, strconv.Itoa(c.HTTPPort))); err != nil {
		return nil, badInput(fmt.Errorf("--http-port: %w", err))
	}
	h.handler, err = hall.Page(h.authority, h.app)
	return h, err
}

// pageURL is where tablets begin.
func (h *hallServer) pageURL() string {
	return "http://" + net.JoinHostPort(h.authority.Name(), strconv.Itoa(h.page.Addr().(*net.TCPAddr).Port))
}

// told is what the app tells the lead.
func (h *hallServer) told() *api.Hall {
	return &api.Hall{Page: h.pageURL(), Fingerprint: h.authority.Fingerprint(), Ends: h.authority.Ends()}
}

// serve answers the page and announces the name until ctx ends.
func (h *hallServer) serve(ctx context.Context, group *errgroup.Group, logger *slog.Logger) {
	web := newHTTPServer(h.handler, logger)
	web.ReadTimeout, web.WriteTimeout = headerTimeout, time.Minute
	group.Go(func() error { return ended(web.Serve(h.page)) })
	group.Go(func() error {
		<-ctx.Done()
		return web.Close()
	})
	name := h.authority.Name()
	if !h.lan || !hall.Announced(name) {
		return
	}
	group.Go(func() error {
		if at, is := hall.Taken(ctx, name); is {
			logger.Warn("another machine on the local network has this name: tablets may reach that one; choose another with --name before they join", "name", name, "address", at)
		}
		hall.Announce(ctx, name, logger)
		return nil
	})
}

// greet says how tablets get in, and what has changed for them.
func (h *hallServer) greet(out io.Writer) error {
	shown := h.authority.Fingerprint()
	_, err := fmt.Fprintf(out, `Each tablet learns once to trust it, at %s
Compare the fingerprint (SHA-256) that a tablet shows with this one:
  %s
  %s
Many events forbid teams' own wireless networks: ask, and keep to the event's rules.
`, h.pageURL(), shown[:len(shown)/2+1], shown[len(shown)/2+1:])
	switch h.made {
	case hall.Renamed:
		_, more := fmt.Fprintf(out, "The name is new, so the certificate is: tablets that installed the one before install this one, and remove the other.\n")
		err = errors.Join(err, more)
	case hall.Ended:
		_, more := fmt.Fprintf(out, "The certificate of before has ended: tablets remove it and install this one, until %s.\n", h.authority.Ends().UTC().Format("2 January 2006"))
		err = errors.Join(err, more)
	}
	return err
}

// greetMoved says at which other addresses tablets were.
func greetMoved(ctx context.Context, out io.Writer, server *api.Server) error {
	moved, err := server.Elsewhere(ctx)
	if err != nil {
		return err
	}
	for _, m := range moved {
		if _, err := fmt.Fprintf(out, "Careful: tablets worked with this server at %s until %s. What they have not sent is only there:\n"+
			"start it with that name and port again, or take their records over by file.\n", m.Origin, m.Last.Local().Format("2 January 2006 15:04")); err != nil {
			return err
		}
	}
	return nil
}
