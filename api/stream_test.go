package api

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// sse is one message of a stream; comments have none of the three.
type sse struct{ id, event, data string }

// stream opens the event's stream and sends what it reads; the channel is
// closed when the stream ends.
func (c *client) stream(lastID string) <-chan sse {
	c.f.t.Helper()
	ctx, cancel := context.WithCancel(c.f.t.Context())
	req, err := http.NewRequestWithContext(ctx, "GET", c.f.base+"/api/events/"+c.event.String()+"/changes", nil)
	if err != nil {
		c.f.t.Fatal(err)
	}
	if lastID != "" {
		req.Header.Set("Last-Event-ID", lastID)
	}
	res, err := (&http.Client{Jar: c.http.Jar}).Do(req)
	if err != nil {
		c.f.t.Fatal(err)
	}
	if res.StatusCode != http.StatusOK || res.Header.Get("Content-Type") != "text/event-stream" || res.Header.Get("Cache-Control") != "no-store" || res.Header.Get("Content-Encoding") != "" {
		c.f.t.Fatalf("the stream answers %d %v", res.StatusCode, res.Header)
	}
	out := make(chan sse, 100)
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer close(out)
		defer res.Body.Close()
		var m sse
		lines := bufio.NewScanner(res.Body)
		for lines.Scan() {
			name, value, _ := strings.Cut(lines.Text(), ": ")
			switch name {
			case "id":
				m.id = value
			case "event":
				m.event = value
			case "data":
				m.data = value
			case "":
				if m != (sse{}) {
					out <- m
				}
				m = sse{}
			}
		}
	}()
	c.f.t.Cleanup(func() { cancel(); <-done })
	return out
}

// until reads the stream until a message of a name, and returns it.
func until(t *testing.T, stream <-chan sse, event string) sse {
	t.Helper()
	deadline := time.After(20 * time.Second)
	for {
		select {
		case m, ok := <-stream:
			if !ok {
				t.Fatalf("the stream ended before a message %q", event)
			}
			if m.event == event {
				return m
			}
		case <-deadline:
			t.Fatalf("no message %q within 20 s", event)
		}
	}
}

func TestStream(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	stream := lead.stream("")
	first := until(t, stream, "change") // where the event stands now
	p := lead.push(lead.observation("Q3", "40101", leadName, 1))
	got := until(t, stream, "change")
	want := sse{fmt.Sprint(p.ChangeNo), "change", fmt.Sprintf(`{"change_no":%d}`, p.ChangeNo)}
	if got != want || first.id == got.id {
		t.Errorf("message %+v after %+v, want %+v", got, first, want)
	}
	// Who comes back is told at once if something was missed, and not otherwise.
	if m := until(t, lead.stream(first.id), "change"); m.id != want.id {
		t.Errorf("resumed at %s: message %+v", first.id, m)
	}
	upToDate := lead.stream(want.id)
	p = lead.push(lead.observation("Q3", "40102", leadName, 1))
	if m := until(t, upToDate, "change"); m.id != fmt.Sprint(p.ChangeNo) {
		t.Errorf("resumed up to date: the first message is %+v, want %d", m, p.ChangeNo)
	}
}

// A browser that is ahead of the server saw numbers that a restored event does
// not have: it must be told, so that it asks and starts again.
func TestStreamOfABrowserThatIsAhead(t *testing.T) {
	t.Parallel()
	lead := newFixture(t).lead().withSchedule(4, 2)
	var ev eventView
	lead.get(".").want(200, &ev)
	if m := until(t, lead.stream(fmt.Sprint(ev.ChangeNo+1000)), "change"); m.id != fmt.Sprint(ev.ChangeNo) {
		t.Errorf("message %+v, want %d", m, ev.ChangeNo)
	}
}

func TestStreamOfAScout(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	scout := lead.join("scout", "s03")
	stream := scout.stream("")
	seen := until(t, stream, "change")
	// Things that are none of a scout's business, then one that is.
	lead.get(".estimates").want(200)
	lead.push(lead.observation("Q1", "40101", leadName, 1))
	lead.push(sentRevision{RevisionID: uuid.Must(uuid.NewV7()), RecordID: uuid.Must(uuid.NewV7()), Kind: "note", Lamport: 1, MadeAt: f.now.now(), Body: mustJSON(t, map[string]string{"text": "x"})})
	p := scout.push(scout.observation("Q1", "40101", "s03", 1))
	if m := until(t, stream, "change"); m.id != fmt.Sprint(p.ChangeNo) {
		t.Errorf("after %s a scout is told of %s, want only the own record, %d", seen.id, m.id, p.ChangeNo)
	}
}

// TestStreamFromAnotherProcess has two servers on one database.
func TestStreamFromAnotherProcess(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(4, 2)
	second := serve(t, f.db)
	there := &client{f: second, http: &http.Client{Jar: lead.http.Jar}, event: lead.event}
	for _, c := range lead.http.Jar.Cookies(mustURL(t, f.base+"/")) {
		lead.http.Jar.SetCookies(mustURL(t, second.base+"/"), []*http.Cookie{c})
	}
	stream := there.stream("")
	until(t, stream, "change")
	p := lead.push(lead.observation("Q3", "40101", leadName, 1))
	if m := until(t, stream, "change"); m.id != fmt.Sprint(p.ChangeNo) {
		t.Errorf("the other process tells of %s, want %d", m.id, p.ChangeNo)
	}
}

func TestStreamTellsOfAnalyses(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead().withSchedule(8, 4)
	lead.get(".estimates").want(200)
	stream := lead.stream("")
	until(t, stream, "change")
	lead.push(lead.observation("Q1", "40101", leadName, 1))
	m := until(t, stream, "analysis")
	var e estimates
	lead.get(".estimates").want(200, &e)
	if !e.Current || m.data != fmt.Sprintf(`{"what":"estimates","data_no":%d}`, e.DataNo) || m.id != "" {
		t.Errorf("message %+v, estimates %+v", m, e.Freshness)
	}
}

func TestStreamEnds(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	end := func(stream <-chan sse, why string) {
		t.Helper()
		deadline := time.After(20 * time.Second)
		for {
			select {
			case _, ok := <-stream:
				if !ok {
					return
				}
			case <-deadline:
				t.Fatalf("the stream goes on after %s", why)
			}
		}
	}
	scout := lead.join("scout", "s03")
	var s sessionView
	scout.get("/api/session").want(200, &s)
	stream, other := scout.stream(""), lead.stream("")
	lead.send("DELETE", ".members/"+s.MemberID.String(), nil).want(204)
	end(stream, "the scout was removed")
	until(t, other, "change") // the others' go on
	f.srv.Drain()
	end(other, "Drain")
}
