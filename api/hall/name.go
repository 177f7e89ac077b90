package hall

import (
	"errors"
	"fmt"
	"net/netip"
	"strings"
)

// DefaultName is the name of a laptop that was given none. Names in .local are
// answered by multicast DNS (RFC 6762, section 3).
const DefaultName = "sextant.local"

// CheckName checks a name for tablets to open: at least two labels of letters,
// digits and hyphens (RFC 1123, section 2.1), and no bare address, since what a
// tablet has not sent belongs to the name. It returns the name in lower case.
func CheckName(name string) (string, error) {
	name = strings.TrimSuffix(strings.ToLower(strings.TrimSpace(name)), ".")
	if _, err := netip.ParseAddr(name); err == nil {
		return "", fmt.Errorf("%s is an address and not a name: addresses change from day to day, and what tablets have not sent would be stranded; take a name such as %s", name, DefaultName)
	}
	if len(name) > 253 {
		return "", errors.New("a name has at most 253 characters")
	}
	labels := strings.Split(name, ".")
	if len(labels) < 2 {
		return "", fmt.Errorf("%q has no dot: take a name such as %s, or one that your team owns", name, DefaultName)
	}
	for _, label := range labels {
		if label == "" || len(label) > 63 || strings.Trim(label, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" ||
			strings.HasPrefix(label, "-") || strings.HasSuffix(label, "-") {
			return "", fmt.Errorf("%q is no name: use letters a to z, digits and hyphens between dots, such as %s", name, DefaultName)
		}
	}
	if last := labels[len(labels)-1]; strings.Trim(last, "0123456789") == "" {
		return "", fmt.Errorf("%q ends in a number, so a browser takes it for an address", name)
	}
	return name, nil
}

// Announced reports whether a name is one that multicast DNS answers for.
func Announced(name string) bool { return strings.HasSuffix(name, ".local") }
