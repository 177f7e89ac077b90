package hall

import (
	"crypto/tls"
	"net"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// lookEvery is how often a Keeper looks for new addresses, at most.
const lookEvery = 5 * time.Second

// Keeper has a server certificate for the addresses that the machine has now: a
// laptop may be started before it joins a network, or change it in mid-event.
// Safe for concurrent use.
type Keeper struct {
	authority *Authority
	addresses func() []netip.Addr
	now       func() time.Time

	mu     sync.Mutex
	cert   *tls.Certificate
	for0   []netip.Addr // what cert is for
	looked time.Time
}

// NewKeeper returns a Keeper; addresses and now are asked again and again.
func NewKeeper(a *Authority, addresses func() []netip.Addr, now func() time.Time) *Keeper {
	return &Keeper{authority: a, addresses: addresses, now: now}
}

// TLS is the configuration of a server.
func (k *Keeper) TLS() *tls.Config {
	return &tls.Config{
		MinVersion:     tls.VersionTLS12,
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return k.Certificate() },
	}
}

// Certificate returns the certificate of now, making it if need be.
func (k *Keeper) Certificate() (*tls.Certificate, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	now := k.now()
	if k.cert != nil && now.Sub(k.looked) < lookEvery {
		return k.cert, nil
	}
	here := k.addresses()
	k.looked = now
	if k.cert != nil && slices.Equal(here, k.for0) && now.Before(k.cert.Leaf.NotAfter.Add(-leafLife/2)) {
		return k.cert, nil
	}
	cert, err := k.authority.Issue(here, now)
	if err != nil {
		return nil, err
	}
	k.cert, k.for0 = cert, here
	return cert, nil
}

// Addresses lists the addresses of this machine that are private, in order. An
// interface that cannot be asked has none.
func Addresses() []netip.Addr {
	list, err := net.InterfaceAddrs()
	if err != nil {
		return nil
	}
	var out []netip.Addr
	for _, a := range list {
		p, err := netip.ParsePrefix(a.String())
		if err == nil && isPrivate(p.Addr()) {
			out = append(out, p.Addr().Unmap())
		}
	}
	slices.SortFunc(out, netip.Addr.Compare)
	return slices.Compact(out)
}
