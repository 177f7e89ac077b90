package generate

import (
	"fmt"
	"math/rand/v2"
)

// Team names are put together from two lists and mean nobody.
var (
	firstWords = []string{
		"Amber", "Brackish", "Brass", "Cobalt", "Copper", "Crooked", "Drowned", "Ebbing", "Flotsam", "Foggy",
		"Gannet", "Hollow", "Kelp", "Lantern", "Leeward", "Mossy", "Narrow", "Ochre", "Pewter", "Quiet",
		"Rusty", "Saffron", "Second", "Shingle", "Slow", "Tarred", "Tidal", "Umber", "Wandering", "Whistling",
	}
	secondWords = []string{
		"Anchors", "Bilge Rats", "Bollards", "Breakers", "Buoys", "Capstans", "Causeway", "Cormorants", "Davits", "Dredgers",
		"Estuary", "Fenders", "Gangway", "Halyards", "Herons", "Jetty", "Keels", "Lighters", "Limpets", "Moorings",
		"Oarlocks", "Pilots", "Plovers", "Rigging", "Sandpipers", "Sluices", "Spindrift", "Towpath", "Winches", "Wherries",
	}
)

// teamNames draws n different names; past the lists they are numbered.
func teamNames(rng *rand.Rand, n int) []string {
	pairs := rng.Perm(len(firstWords) * len(secondWords))
	names := make([]string, n)
	for i := range names {
		p := pairs[i%len(pairs)]
		names[i] = firstWords[p/len(secondWords)] + " " + secondWords[p%len(secondWords)]
		if turn := i / len(pairs); turn > 0 {
			names[i] += fmt.Sprintf(" %d", turn+1)
		}
	}
	return names
}
