package api

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"sextant/stats/game"
)

func TestEvent(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	var ev eventView
	a := lead.get(".").want(200, &ev)
	if ev.Name != "Saltmarsh Test" || ev.OurTeam != "40101" || ev.Role != "lead" || ev.Nickname != leadName {
		t.Errorf("event %+v", ev)
	}
	tag := a.header.Get("ETag")
	lead.get(".", "If-None-Match", tag).want(304)
	lead.get(".", "If-None-Match", `"x", W/`+tag).want(304)
	lead.get(".", "If-None-Match", `"x"`).want(200)

	lead.send("PATCH", ".", map[string]any{"name": "Second name"}, "If-Match", tag).want(200, &ev)
	if ev.Name != "Second name" {
		t.Errorf("renamed to %q", ev.Name)
	}
	lead.send("PATCH", ".", map[string]any{"name": "Third name"}, "If-Match", tag).problem(stale, "nothing was written")
	lead.send("PATCH", ".", map[string]any{"name": "Third name"}, "If-Match", "nonsense").problem(stale)
	lead.get(".", "If-None-Match", tag).want(200, &ev)
	if ev.Name != "Second name" {
		t.Errorf("after refused writes the name is %q", ev.Name)
	}
	// A record that comes in does not make a lead's open form stale.
	tag = lead.get(".").header.Get("ETag")
	lead.push(lead.observation("Q1", "40101", leadName, 1))
	lead.send("PATCH", ".", map[string]any{"name": "Fourth name"}, "If-Match", tag).want(200)

	for body, part := range map[string]string{
		`{"name": "  "}`:                           "/name",
		`{"zone": "Middle/Earth"}`:                 "/zone",
		`{"zone": "Local"}`:                        "/zone",
		`{"our_team": "007"}`:                      "/our_team",
		`{"overrides": {"values": {"nope": 3}}}`:   "event.json",
		`{"overrides": {"worth": {"first": 1}}}`:   "worth",
		`{"overrides": {"selection": "nonsense"}}`: "/selection",
	} {
		lead.send("PATCH", ".", body, "Content-Type", mediaJSON).problem(invalid, part)
	}
}

func TestCreateEvent(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	c := f.account()
	event := func(change func(map[string]any)) map[string]any {
		m := map[string]any{"name": "New", "zone": "UTC", "game": json.RawMessage(gameFile(t))}
		change(m)
		return m
	}
	broken := bytes.Replace(gameFile(t), []byte(`"kind": "flag"`), []byte(`"kind": "flagg"`), 1)
	c.send("POST", "/api/events", event(func(m map[string]any) { m["game"] = json.RawMessage(broken) })).problem(invalid, "game.json", "/actions/0/kind")
	c.send("POST", "/api/events", event(func(m map[string]any) { m["game"] = "a text" })).problem(invalid)
	c.send("POST", "/api/events", event(func(m map[string]any) { m["name"] = "" })).problem(invalid, "/name")
	c.send("POST", "/api/events", event(func(m map[string]any) { m["overrides"] = map[string]any{"wings": 2} })).problem(invalid, "event.json")
	var events struct{ Events []eventOfMember }
	c.get("/api/events").want(200, &events)
	if len(events.Events) != 0 {
		t.Errorf("refused events are there: %+v", events.Events)
	}
	var ev eventView
	c.send("POST", "/api/events", event(func(m map[string]any) {
		m["overrides"] = map[string]any{"our_team": "40105", "time_zone": "America/Chicago"}
		m["zone"], m["nickname"] = "", "chief"
	})).want(201, &ev)
	if ev.OurTeam != "40105" || ev.Zone != "America/Chicago" || ev.Nickname != "chief" {
		t.Errorf("the settings' team and zone are not taken: %+v", ev)
	}
}

func TestGame(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	lead.send("PATCH", ".", map[string]any{"overrides": map[string]any{"values": map[string]any{"full_load": 11}}}).want(200)
	var g game.Game
	a := lead.get(".game").want(200, &g)
	tag := a.header.Get("ETag")
	if g.Name != "Slackwater" || g.Values["full_load"] != 11 {
		t.Errorf("game %s with values %v, want the event's own", g.Name, g.Values)
	}
	lead.get(".game", "If-None-Match", tag).want(304)

	renamed := bytes.Replace(gameFile(t), []byte(`"name": "Slackwater"`), []byte(`"name": "Slackwater II"`), 1)
	var r report
	lead.send("PUT", ".game?preview=1", renamed).want(200, &r)
	if r.Rows == 0 || len(r.Problems) != 0 {
		t.Errorf("preview %+v", r)
	}
	if lead.get(".game").want(200, &g); g.Name != "Slackwater" {
		t.Fatal("a preview has changed the game")
	}
	lead.send("PUT", ".game", renamed, "If-Match", tag).want(200)
	if lead.get(".game").want(200, &g); g.Name != "Slackwater II" {
		t.Errorf("the game is %q", g.Name)
	}
	lead.send("PUT", ".game", gameFile(t), "If-Match", tag).problem(stale)

	// An id that becomes another kind of thing would change what records say.
	reused := bytes.Replace(renamed, []byte(`"id": "hold"`), []byte(`"id": "held"`), 1)
	reused = bytes.ReplaceAll(reused, []byte(`"hold"`), []byte(`"held"`))
	reused = bytes.Replace(reused, []byte(`"id": "major"`), []byte(`"id": "hold"`), 1)
	lead.send("PUT", ".game", reused).problem(invalid, "hold")
	lead.send("PUT", ".game?preview=1", reused).want(200, &r)
	if len(r.Problems) == 0 || r.Problems[0].Pointer == "" || !strings.Contains(r.Problems[0].Message, "hold") {
		t.Errorf("problems of the preview: %+v", r.Problems)
	}
	lead.send("PUT", ".game", `{"id": `).problem(invalid, "game.json")
	lead.send("PUT", ".game", "").problem(malformed)
	lead.send("PUT", ".game?preview=1", `{"id": 1e400}`).want(200, &r)
	if len(r.Problems) == 0 {
		t.Error("an infinite number is taken")
	}
}
