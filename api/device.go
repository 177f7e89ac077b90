package api

import (
	"context"
	"strings"
)

// deviceKinds are what a lead may know of a device, by a word of the
// User-Agent header; of several the first. Browsers freeze or shorten that
// header, and nothing finer is kept of it. An iPad calls itself a Mac unless
// it is told not to. The words are from memory.
var deviceKinds = []struct {
	words []string
	kind  string
}{
	{[]string{"iPad"}, "iPad"},
	{[]string{"iPhone"}, "iPhone"},
	{[]string{"Android", "Mobile"}, "Android phone"},
	{[]string{"Android"}, "Android tablet"},
	{[]string{"CrOS"}, "Chromebook"},
	{[]string{"Windows"}, "Windows computer"},
	{[]string{"Macintosh"}, "Mac or iPad"},
	{[]string{"Linux"}, "Linux computer"},
}

// deviceKind says coarsely what a browser runs on; empty: not known.
func deviceKind(userAgent string) string {
next:
	for _, k := range deviceKinds {
		for _, word := range k.words {
			if !strings.Contains(userAgent, word) {
				continue next
			}
		}
		return k.kind
	}
	return ""
}

// deviceKindOf is the kind of device that makes the request.
func deviceKindOf(ctx context.Context) string {
	kind, _ := ctx.Value(deviceKindKey{}).(string)
	return kind
}
