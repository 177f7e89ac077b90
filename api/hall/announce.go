package hall

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/pion/logging"
	"github.com/pion/mdns/v2"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// Announce answers questions of multicast DNS for a name in .local (RFC 6762)
// with this machine's addresses, until ctx ends. Networks that come and go are
// followed. Where the machine lets nobody listen it says so in the log and
// tries again: tablets may know the name in another way.
func Announce(ctx context.Context, name string, logger *slog.Logger) {
	const look = 5 * time.Second
	var conn *mdns.Conn
	var networks []string
	tick := time.NewTicker(look)
	defer tick.Stop()
	for {
		if here := interfaces(); conn == nil || !slices.Equal(here, networks) {
			if conn != nil {
				conn.Close()
			}
			var err error
			if conn, err = respond(name, nil); err != nil {
				conn = nil
				if !slices.Equal(here, networks) { // once, until something changes
					logger.Warn("the name is not announced; give tablets' network the name in another way", "name", name, "error", err)
				}
			} else {
				logger.Info("the name is announced on the local network", "name", name)
			}
			networks = here
		}
		select {
		case <-ctx.Done():
			if conn != nil {
				conn.Close()
			}
			return
		case <-tick.C:
		}
	}
}

// respond answers on the interfaces, or on all but loopback.
func respond(name string, on []net.Interface) (*mdns.Conn, error) {
	v4, v6, err := groups()
	if err != nil {
		return nil, err
	}
	opt := []mdns.ServerOption{mdns.WithLocalNames(name), mdns.WithLoggerFactory(quiet{})}
	if len(on) > 0 {
		opt = append(opt, mdns.WithInterfaces(on...), mdns.WithIncludeLoopback(true))
	}
	return mdns.NewServer(v4, v6, opt...)
}

// groups listens to the two groups of multicast DNS. A machine may lack one of
// the two protocols.
func groups() (v4 *ipv4.PacketConn, v6 *ipv6.PacketConn, err error) {
	l4, err4 := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(224, 0, 0, 0), Port: 5353})
	if err4 == nil {
		v4 = ipv4.NewPacketConn(l4)
	}
	l6, err6 := net.ListenUDP("udp6", &net.UDPAddr{IP: net.ParseIP("ff02::"), Port: 5353})
	if err6 == nil {
		v6 = ipv6.NewPacketConn(l6)
	}
	if v4 == nil && v6 == nil {
		return nil, nil, errors.Join(err4, err6)
	}
	return v4, v6, nil
}

// Taken asks the local network whether a name in .local belongs to another
// machine, as when two teams' laptops have the same name.
func Taken(ctx context.Context, name string) (netip.Addr, bool) {
	return taken(ctx, name, nil, Addresses())
}

func taken(ctx context.Context, name string, on []net.Interface, own []netip.Addr) (netip.Addr, bool) {
	v4, v6, err := groups()
	if err != nil {
		return netip.Addr{}, false
	}
	opt := []mdns.ServerOption{mdns.WithQueryInterval(300 * time.Millisecond), mdns.WithLoggerFactory(quiet{})}
	if len(on) > 0 {
		opt = append(opt, mdns.WithInterfaces(on...), mdns.WithIncludeLoopback(true))
	}
	conn, err := mdns.NewServer(v4, v6, opt...) // of no name: it only asks
	if err != nil {
		return netip.Addr{}, false
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	_, at, err := conn.QueryAddr(ctx, name)
	if err != nil || slices.Contains(own, at.Unmap().WithZone("")) {
		return netip.Addr{}, false
	}
	return at, true
}

// interfaces describes the networks that the machine is in.
func interfaces() []string {
	list, err := net.Interfaces()
	if err != nil {
		return nil
	}
	var out []string
	for _, i := range list {
		addresses, err := i.Addrs()
		if err != nil || i.Flags&net.FlagUp == 0 {
			continue
		}
		parts := []string{i.Name}
		for _, a := range addresses {
			parts = append(parts, a.String())
		}
		out = append(out, strings.Join(parts, " "))
	}
	slices.Sort(out)
	return out
}

// quiet keeps the responder's own log away: it warns of each packet that the
// network does not carry.
type quiet struct{}

func (quiet) NewLogger(string) logging.LeveledLogger {
	return logging.NewDefaultLeveledLoggerForScope("mdns", logging.LogLevelDisabled, nil)
}
