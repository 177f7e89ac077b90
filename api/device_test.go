package api

import (
	"testing"
	"time"
)

// The headers are typical ones, shortened, from memory.
func TestDeviceKind(t *testing.T) {
	t.Parallel()
	for header, want := range map[string]string{
		"Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X) AppleWebKit/605.1.15":                   "iPad",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15":          "iPhone",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 Chrome/140.0.0.0 Mobile Safari": "Android phone",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 Chrome/140.0.0.0 Safari/537.36": "Android tablet",
		"Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 Chrome/140.0.0.0":         "Chromebook",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 Chrome/140.0.0.0":        "Windows computer",
		"Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 Version/18.0":    "Mac or iPad",
		"Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 HeadlessChrome/140.0.0.0":          "Linux computer",
		"curl/8.0": "",
		"":         "",
	} {
		if got := deviceKind(header); got != want {
			t.Errorf("%q is %q, want %q", header, got, want)
		}
	}
}

func TestDevicesOfMembers(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	scout := f.client()
	scout.event = lead.event
	before := time.Now() // the store has a clock of its own
	scout.send("POST", "/api/session", map[string]string{"code": lead.code("scout").Code, "nickname": "ann", "device": "d1"},
		"User-Agent", "Mozilla/5.0 (iPad; CPU OS 18_0 like Mac OS X)").want(201)
	coach := lead.join("coach", "cy")
	after := time.Now()

	device := func(by *client, nickname string) []deviceView {
		t.Helper()
		var list struct{ Members []memberView }
		by.get(".members").want(200, &list)
		for _, m := range list.Members {
			if m.Nickname == nickname {
				return m.Devices
			}
		}
		t.Fatalf("%s is not in %+v", nickname, list.Members)
		return nil
	}
	got := device(lead, "ann")
	if len(got) != 1 || got[0].Kind != "iPad" || got[0].LastSeenAt.Before(before.Truncate(time.Millisecond)) || got[0].LastSeenAt.After(after) {
		t.Fatalf("joined between %v and %v: %+v", before, after, got)
	}
	if own := device(lead, leadName); len(own) != 1 {
		t.Errorf("the lead's account: %+v", own)
	}
	if seen := device(coach, "ann"); seen != nil {
		t.Errorf("a coach sees %+v", seen)
	}

	// A second tab of the same device is no second device: joining again ends the session before.
	scout.send("POST", "/api/session", map[string]string{"code": lead.code("scout").Code, "nickname": "ann", "device": "d1"}).want(201)
	if again := device(lead, "ann"); len(again) != 1 || again[0].Kind != "" {
		t.Errorf("joined again: %+v", again)
	}
}
