package hall

import (
	"cmp"
	"net/url"
	"slices"
	"strings"
	"time"
)

// What a tablet stores, and has not sent, belongs to an origin: scheme, name
// and port (RFC 6454, section 4). So the program remembers the origins at which
// tablets joined, and says so when it is opened at another one.

// Origin is the origin of an address, "" if it has none.
func Origin(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return ""
	}
	host := strings.ToLower(u.Host)
	if standard := map[string]string{"http": ":80", "https": ":443"}[u.Scheme]; strings.HasSuffix(host, standard) {
		host = strings.TrimSuffix(host, standard)
	}
	return u.Scheme + "://" + host
}

// Seen is an origin at which tablets were.
type Seen struct {
	Origin string
	Last   time.Time
}

// remembered is how long an origin matters: longer, and every tablet of then
// has been signed out and set up anew.
const remembered = 60 * 24 * time.Hour

// Elsewhere lists the origins, other than current, at which tablets were
// lately, the newest first.
func Elsewhere(seen []Seen, current string, now time.Time) []Seen {
	var out []Seen
	for _, s := range seen {
		if s.Origin != current && s.Origin != "" && now.Sub(s.Last) < remembered {
			out = append(out, s)
		}
	}
	slices.SortFunc(out, func(a, b Seen) int { return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Origin, b.Origin)) })
	return out
}
