package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/game"
	"sextant/stats/generate"
	"sextant/stats/record"
)

// running is a demo that a test has started.
type running struct {
	lines chan string // of its standard output
	enter io.Writer   // its keyboard
	stop  func() error
}

func startDemo(t *testing.T, c demoCommand) *running {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	keys, enter := io.Pipe()
	printed, out := io.Pipe()
	r := &running{lines: make(chan string, 100), enter: enter}
	go func() {
		defer close(r.lines)
		for scan := bufio.NewScanner(printed); scan.Scan(); {
			r.lines <- scan.Text()
		}
	}()
	ended := make(chan error, 1)
	var errs bytes.Buffer
	go func() {
		err := c.Run(ctx, &streams{In: keys, Out: out, Err: &errs})
		out.Close()
		ended <- err
	}()
	r.stop = func() error {
		cancel()
		keys.Close()
		select {
		case err := <-ended:
			return err
		case <-time.After(time.Minute):
			return errors.New("the demo does not stop")
		}
	}
	t.Cleanup(func() {
		cancel()
		keys.Close()
		if t.Failed() {
			t.Logf("its log: %s", errs.String())
		}
	})
	return r
}

// until reads lines up to the first that has text, and returns them.
func (r *running) until(t *testing.T, text string) (lines []string) {
	t.Helper()
	limit := time.After(4 * time.Minute)
	for {
		select {
		case line, open := <-r.lines:
			if !open {
				t.Fatalf("it ended without %q: %v; printed %q", text, r.stop(), lines)
			}
			if lines = append(lines, line); strings.Contains(line, text) {
				return lines
			}
		case <-limit:
			t.Fatalf("it does not print %q; printed %q", text, lines)
		}
	}
}

var demoLink = regexp.MustCompile(`(lead|coach|scout) +(http://localhost:\d+)/enter#(\S+)`)

// enterDemo uses a link as the app does: role, and a client that is signed in.
func enterDemo(t *testing.T, base, code, device string) (*http.Client, int) {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Jar: jar, Timeout: 20 * time.Second}
	body := fmt.Sprintf(`{"code": %q, "device": %q}`, code, device)
	res, err := client.Post(base+"/api/session", "application/json", strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	return client, res.StatusCode
}

func get(t *testing.T, client *http.Client, url string, into any) {
	t.Helper()
	res, err := client.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		t.Fatalf("GET %s: %s %v %s", url, res.Status, err, text)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("GET %s: %v", url, err)
	}
}

func TestDemo(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("starts a PostgreSQL")
	}
	dir := t.TempDir()
	// Started by root, PostgreSQL runs as somebody else, who must get there.
	if err := os.Chmod(filepath.Dir(dir), 0o711); err != nil {
		t.Fatal(err)
	}
	c := demoCommand{Data: filepath.Join(dir, "demo"), Seed: 3, LogLevel: slog.LevelWarn}
	demo := startDemo(t, c)
	greeting := strings.Join(demo.until(t, "Ctrl-C"), "\n")
	for _, says := range []string{"invented", "Nothing in it is real", "64 of 96 matches played", "works once", "press Enter"} {
		if !strings.Contains(strings.ToLower(greeting), strings.ToLower(says)) {
			t.Errorf("the greeting does not say %q:\n%s", says, greeting)
		}
	}
	links := map[string][]string{}
	for _, m := range demoLink.FindAllStringSubmatch(greeting, -1) {
		links[m[1]] = m[2:]
	}
	if len(links) != 3 {
		t.Fatalf("links for %d roles, want three:\n%s", len(links), greeting)
	}
	base := links["lead"][0]

	lead, status := enterDemo(t, base, links["lead"][1], "one")
	if status != http.StatusCreated {
		t.Fatalf("the lead's link answers %d", status)
	}
	if _, again := enterDemo(t, base, links["lead"][1], "two"); again == http.StatusCreated {
		t.Error("the lead's link works twice")
	}
	if _, status := enterDemo(t, base, links["scout"][1], "three"); status != http.StatusCreated {
		t.Errorf("the scout's link answers %d", status)
	}
	var session struct {
		Role, Nickname string
		EventID        string `json:"event_id"`
	}
	get(t, lead, base+"/api/session", &session)
	if session.Role != "lead" || session.Nickname != "Guest lead" {
		t.Errorf("the lead's link gives the role %q and the nickname %q", session.Role, session.Nickname)
	}
	event := base + "/api/events/" + session.EventID
	var shown struct{ Matches []record.Match }
	get(t, lead, event+"/matches", &shown)
	world := demoWorldOf(t, 3, shown.Matches[0].StartsAt)
	played := func() int {
		get(t, lead, event+"/matches", &shown)
		n := 0
		for i, m := range shown.Matches {
			if !m.Played() {
				continue
			}
			n++
			if want, _ := world.Play(i); want.Red.Result.Score != m.Red.Result.Score || !slices.Equal(want.Blue.Teams, m.Blue.Teams) {
				t.Errorf("%s is not the match of this seed", m.ID)
			}
		}
		return n
	}
	if n := played(); n != 64 {
		t.Errorf("%d matches are played, want 64", n)
	}

	if _, err := io.WriteString(demo.enter, "\n"); err != nil {
		t.Fatal(err)
	}
	demo.until(t, "Q65 is played")
	if n := played(); n != 65 {
		t.Errorf("%d matches are played after Enter, want 65", n)
	}
	var records struct {
		Records []struct{ Body record.Observation }
	}
	get(t, lead, event+"/records?kind=observation&match=Q65", &records)
	var seats struct {
		Records []struct{ Body record.SeatBody }
	}
	get(t, lead, event+"/records?kind=seat&match=Q65", &seats)
	sent := generate.Sent{}
	for _, s := range seats.Records {
		sent[s.Body.Scout] = s.Body.Team
	}
	if len(sent) < 3 {
		t.Errorf("the rota sends %d scouts to Q65", len(sent))
	}
	want, err := world.Watch(64, sent)
	if err != nil {
		t.Fatal(err)
	}
	var got []record.Observation
	for _, r := range records.Records {
		got = append(got, r.Body)
	}
	byScout := func(a, b record.Observation) int { return strings.Compare(a.Scout, b.Scout) }
	slices.SortFunc(got, byScout)
	slices.SortFunc(want, byScout)
	if diff := cmp.Diff(asJSON(t, want), asJSON(t, got)); diff != "" {
		t.Errorf("records of Q65 (-of the seed +in the demo):\n%s", diff)
	}
	if err := demo.stop(); err != nil {
		t.Fatalf("the demo ends with %v", err)
	}

	// It goes on where it was, and does not mix two events.
	again := startDemo(t, c)
	if greeting := strings.Join(again.until(t, "Ctrl-C"), "\n"); !strings.Contains(greeting, "65 of 96") {
		t.Errorf("started again it says %s", greeting)
	}
	if err := again.stop(); err != nil {
		t.Fatalf("the demo ends with %v", err)
	}
	c.Seed = 4
	other := startDemo(t, c)
	for range other.lines { // to the end
	}
	var input inputError
	if err := other.stop(); !errors.As(err, &input) || !strings.Contains(err.Error(), "seed 3") {
		t.Errorf("another seed in the same folder gives %v", err)
	}
}

func demoWorldOf(t *testing.T, seed uint64, start time.Time) *generate.World {
	t.Helper()
	g, err := game.Load("slackwater.json", generate.Slackwater())
	if err != nil {
		t.Fatal(err)
	}
	w, err := demoWorld(g, demoWhole, seed, start)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func asJSON(t *testing.T, v any) string {
	t.Helper()
	text, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestDemoRefuses(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"--port", "-1"}, {"--every", "-3s"}, {"--every", "often"}, {"--port", "70000"}} {
		var out, errs bytes.Buffer
		if code := run(append([]string{"demo", "--data", filepath.Join(t.TempDir(), "demo")}, args...), nil, &out, &errs); code != exitUsage {
			t.Errorf("sextant demo %q ends with %d, want %d: %s", args, code, exitUsage, errs.String())
		}
	}
}
