// Package hall makes a laptop a server that tablets in the same hall can trust:
// an own certificate authority that is good for one name and private addresses
// only, a server certificate for the addresses of the day, the name announced
// by multicast DNS, and a page that says how to install the authority on a
// tablet and how to get rid of it.
//
// Browsers let a page work offline, use the camera or keep the screen awake
// only in a secure context, and a certificate whose warning was clicked away
// does not give one (W3C, Secure Contexts; Service Workers).
//
// It knows no database, no echo and nothing of events. cmd wires it; package
// api uses Origin and Origins. It imports nothing of the project.
//
//	a, made, err := hall.Open("data/hall/authority.pem", "sextant.local", time.Now())
//	…
//	web.TLSConfig = hall.NewKeeper(a, hall.Addresses, time.Now).TLS()
package hall
