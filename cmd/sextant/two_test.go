//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
	"sextant/store/storetest"
)

// TestTwoServers has two programs on one database: a record sent to one is told
// by the other, and when one is killed with requests under way, the tablet sends
// them to the other: each is stored once.
func TestTwoServers(t *testing.T) {
	t.Parallel()
	env := []string{"DATABASE_URL=" + storetest.URL(t)}
	first := startServer(t, env)
	lead := newBrowser(t, first.base)
	lead.call("POST", "/api/setup", map[string]string{"secret": first.setUp, "name": "ada", "password": "a long password"}, 201)
	event := newEvent(t, lead)
	id := uuid.MustParse(strings.TrimPrefix(event, "/api/events/"))
	second := startServer(t, env)
	// A cookie belongs to a host, whatever the port (RFC 6265, section 8.5).
	there := &browser{t, second.base, &http.Client{Jar: lead.http.Jar, Timeout: time.Minute}}

	live := there.listen(id)
	<-live // where the event stands
	item := func(team string) map[string]any {
		q1 := record.MatchID{Stage: record.Qualification, Number: 1}
		return map[string]any{
			"revision_id": uuid.Must(uuid.NewV7()), "record_id": record.ObservationID(id, q1, 1, record.TeamID(team), "ada"), "parents": []string{},
			"kind": "observation", "lamport": 1, "made_at": time.Now(),
			"body": map[string]any{"match": "Q1", "team": team, "scout": "ada", "counts": map[string]any{"deck": map[string]int{"made": 2, "missed": 0}}},
		}
	}
	push := func(items ...any) map[string]any { return map[string]any{"protocol": 1, "device": "d", "items": items} }
	var pushed struct {
		ChangeNo int64 `json:"change_no"`
	}
	lead.call("POST", event+"/sync", push(item("40201")), 200, &pushed)
	want := fmt.Sprintf(`{"change_no":%d}`, pushed.ChangeNo)
	limit := time.After(time.Minute)
	for told := ""; told != want; {
		select {
		case told = <-live:
		case <-limit:
			t.Fatalf("the other program does not tell of %s", want)
		}
	}

	// Many requests are under way when the first program dies.
	var bodies [][]byte
	for i := range 5 {
		body, err := json.Marshal(push(item(fmt.Sprint(40202+i)), item(fmt.Sprint(40202+i))))
		if err != nil {
			t.Fatal(err)
		}
		bodies = append(bodies, body)
	}
	answered := make(chan bool, len(bodies))
	var under sync.WaitGroup
	for _, body := range bodies {
		under.Go(func() {
			req, err := http.NewRequest("POST", first.base+event+"/sync", bytes.NewReader(body))
			if err != nil {
				t.Error(err)
				return
			}
			req.Header.Set("Content-Type", "application/json")
			if res, err := (&http.Client{Jar: lead.http.Jar, Timeout: time.Minute}).Do(req); err == nil {
				res.Body.Close()
				answered <- true
			} // or it was cut off, which is what this is about
		})
	}
	<-answered // the others are on their way
	if err := syscall.Kill(first.cmd.Process.Pid, syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	<-first.ended
	under.Wait()
	outcomes := map[string]int{}
	for _, body := range bodies {
		var answer struct{ Items []struct{ Outcome string } }
		there.call("POST", event+"/sync", json.RawMessage(body), 200, &answer)
		for _, it := range answer.Items {
			outcomes[it.Outcome]++
		}
	}
	if outcomes["stored"]+outcomes["known"] != 10 {
		t.Errorf("sent again: %v", outcomes)
	}
	var page struct {
		Items []struct {
			ChangeNo int64 `json:"change_no"`
			Revision *struct {
				RevisionID uuid.UUID `json:"revision_id"`
			}
		}
	}
	there.call("GET", event+"/sync?after=0&limit=1000", nil, 200, &page)
	seen := map[uuid.UUID]int{}
	for i, it := range page.Items {
		if it.ChangeNo != int64(i+1) {
			t.Errorf("change %d is number %d", i+1, it.ChangeNo)
		}
		if it.Revision != nil {
			seen[it.Revision.RevisionID]++
		}
	}
	n := 0
	for id, times := range seen {
		if n++; times != 1 {
			t.Errorf("%s is there %d times", id, times)
		}
	}
	if want := 11 + 2; n != want { // eleven records, two results of the schedule
		t.Errorf("%d revisions, want %d", n, want)
	}
	t.Logf("sent again after the kill: %v", outcomes)
}
