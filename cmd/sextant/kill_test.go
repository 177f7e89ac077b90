//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/google/uuid"

	"sextant/stats/record"
)

// Run the long form with
//
//	go test ./cmd/sextant -run TestKill -kills 20 -v
var kills = flag.Int("kills", 2, "how often TestKill kills the server, and how often PostgreSQL")

// TestKill kills -9 the server, or its PostgreSQL, again and again at random
// moments while tablets send. After each kill, before any tablet sends again,
// every record that was acknowledged must be there, once. What was not
// acknowledged stays on the tablet and is sent again; at the end all is there,
// once.
func TestKill(t *testing.T) {
	t.Parallel()
	data := filepath.Join(dataRoot(t), "data")
	listen := freeAddress(t)
	start := func() *server { return startServer(t, nil, "--data", data, "--listen", listen, "--backup-every", "0") }
	srv := start()
	lead := newBrowser(t, srv.base)
	lead.call("POST", "/api/setup", map[string]string{"secret": srv.setUp, "name": "ada", "password": "a long password"}, 201)
	event := newEvent(t, lead)
	eventID := uuid.MustParse(filepath.Base(event))
	var code struct{ Code string }
	lead.call("POST", event+"/codes", map[string]any{"role": "scout", "hours": 1}, 201, &code)

	const tablets = 4
	trial := &killTrial{t: t, acked: make(chan int, 1000)}
	var running sync.WaitGroup
	all := make([]*killTablet, tablets)
	for i := range all {
		name := fmt.Sprintf("s%02d", i)
		b := newBrowser(t, srv.base)
		b.http.Timeout = 10 * time.Second
		b.call("POST", "/api/session", map[string]string{"code": code.Code, "nickname": name, "device": "tablet " + name}, 201)
		all[i] = &killTablet{trial: trial, b: b, event: event, eventID: eventID, name: name, last: map[uuid.UUID]uuid.UUID{}, acked: map[uuid.UUID]bool{}}
		running.Go(all[i].work)
	}

	seed := uint64(time.Now().UnixNano())
	rng := rand.New(rand.NewPCG(seed, 1))
	var plan []string
	for range *kills {
		plan = append(plan, "server", "postgresql")
	}
	rng.Shuffle(len(plan), func(i, j int) { plan[i], plan[j] = plan[j], plan[i] })
	held, early := 0, 0 // unacknowledged at a kill; stored all the same
	for round, what := range plan {
		trial.await(1 + rng.IntN(60))
		<-time.After(time.Duration(rng.IntN(20_000)) * time.Microsecond) // anywhere within a request
		pid := srv.cmd.Process.Pid
		if what == "postgresql" {
			pid = postmaster(t, data)
		}
		if err := syscall.Kill(pid, syscall.SIGKILL); err != nil {
			t.Fatal(err)
		}
		select {
		case <-srv.ended: // without its PostgreSQL it ends by itself, to be started anew
		case <-time.After(time.Minute):
			t.Fatalf("round %d (seed %d): the server goes on without its %s", round, seed, what)
		}
		trial.gate.Lock() // no tablet sends until what is there has been seen
		srv = start()
		stored := trial.stored(lead, event)
		for _, tab := range all {
			for id := range tab.acked {
				if stored[id] != 1 {
					t.Errorf("round %d (seed %d), %s killed: acknowledged revision %s is there %d times", round, seed, what, id, stored[id])
				}
			}
			for _, it := range tab.outbox {
				held++
				if stored[it.RevisionID] > 0 {
					early++
				}
			}
		}
		trial.gate.Unlock()
		if t.Failed() {
			break
		}
	}
	trial.ending.Store(true)
	running.Wait()
	stored := trial.stored(lead, event)
	made := 0
	for _, tab := range all {
		made += len(tab.acked)
		if len(tab.outbox) > 0 {
			t.Errorf("%s holds %d records", tab.name, len(tab.outbox))
		}
		for id := range tab.acked {
			if stored[id] != 1 {
				t.Errorf("at the end revision %s is there %d times", id, stored[id])
			}
		}
	}
	observations := 0
	for _, n := range stored {
		observations += n
	}
	if observations != made {
		t.Errorf("%d revisions are there, the tablets made %d", observations, made)
	}
	srv.stop()
	t.Logf("seed %d: %d kills; %d revisions acknowledged, each there once; %d unacknowledged at the kills, of them %d stored all the same and known when sent again (%d answers \"known\")",
		seed, len(plan), made, held, early, trial.known.Load())
}

// killTrial is what the tablets share.
type killTrial struct {
	t      *testing.T
	gate   sync.RWMutex // read-held while a tablet talks to the server
	acked  chan int     // how many at a time
	ending atomic.Bool  // make no more, send what is left
	known  atomic.Int64
}

// await waits until the tablets have got n acknowledgements more.
func (k *killTrial) await(n int) {
	k.t.Helper()
	limit := time.After(2 * time.Minute)
	for len(k.acked) > 0 { // of before
		<-k.acked
	}
	for n > 0 {
		select {
		case got := <-k.acked:
			n -= got
		case <-limit:
			k.t.Fatal("the tablets get nothing acknowledged")
		}
	}
}

// stored reads the whole feed: how often each tablet's revision is in it. Its
// numbers must rise by one.
func (k *killTrial) stored(lead *browser, event string) map[uuid.UUID]int {
	k.t.Helper()
	out := map[uuid.UUID]int{}
	for after := int64(0); ; {
		var page struct {
			Items []struct {
				ChangeNo int64 `json:"change_no"`
				Revision *struct {
					RevisionID uuid.UUID `json:"revision_id"`
					Kind       string
				}
			}
			Next int64
		}
		lead.call("GET", fmt.Sprintf("%s/sync?after=%d&limit=1000", event, after), nil, 200, &page)
		if len(page.Items) == 0 {
			return out
		}
		for _, it := range page.Items {
			if it.ChangeNo != after+1 {
				k.t.Errorf("change %d follows %d", it.ChangeNo, after)
			}
			after = it.ChangeNo
			if it.Revision != nil && it.Revision.Kind == record.KindObservation {
				out[it.Revision.RevisionID]++
			}
		}
	}
}

// killTablet is a scout's tablet: what it made and nobody acknowledged it keeps.
type killTablet struct {
	trial   *killTrial
	b       *browser
	event   string
	eventID uuid.UUID
	name    string
	made    int
	outbox  []killItem
	last    map[uuid.UUID]uuid.UUID // newest revision of each record
	acked   map[uuid.UUID]bool
}

type killItem struct {
	RevisionID uuid.UUID      `json:"revision_id"`
	RecordID   uuid.UUID      `json:"record_id"`
	Parents    []uuid.UUID    `json:"parents"`
	Kind       string         `json:"kind"`
	Lamport    int            `json:"lamport"`
	MadeAt     time.Time      `json:"made_at"`
	Body       map[string]any `json:"body"`
}

// make records a robot, or corrects the record.
func (k *killTablet) make() {
	k.made++
	team := fmt.Sprint(40201 + k.made%6)
	id := record.ObservationID(k.eventID, record.MatchID{Stage: record.Qualification, Number: 1 + k.made/6%2}, 1, record.TeamID(team), k.name)
	it := killItem{
		RevisionID: uuid.Must(uuid.NewV7()), RecordID: id, Parents: []uuid.UUID{}, Kind: record.KindObservation, Lamport: k.made, MadeAt: time.Now(),
		Body: map[string]any{"match": fmt.Sprintf("Q%d", 1+k.made/6%2), "team": team, "scout": k.name, "counts": map[string]any{"deck": map[string]int{"made": k.made % 50, "missed": 1}}},
	}
	if before, ok := k.last[id]; ok {
		it.Parents = append(it.Parents, before)
	}
	k.last[id] = it.RevisionID
	k.outbox = append(k.outbox, it)
}

// work makes and sends until the trial ends and everything is acknowledged.
func (k *killTablet) work() {
	again := time.NewTicker(5 * time.Millisecond) // the pace of somebody who taps, and of trying again
	defer again.Stop()
	limit := time.Now().Add(30 * time.Minute)
	for time.Now().Before(limit) && !k.trial.t.Failed() {
		<-again.C
		k.trial.gate.RLock()
		ending := k.trial.ending.Load()
		if !ending && len(k.outbox) < 40 {
			k.make()
		}
		if len(k.outbox) > 0 {
			k.send()
		}
		done := ending && len(k.outbox) == 0
		k.trial.gate.RUnlock()
		if done {
			return
		}
	}
}

// send sends the oldest of the outbox; without an answer it all stays.
func (k *killTablet) send() {
	batch := k.outbox[:min(len(k.outbox), 10)]
	body, err := json.Marshal(map[string]any{"protocol": 1, "device": "tablet " + k.name, "items": batch})
	if err != nil {
		k.trial.t.Error(err)
		return
	}
	req, err := http.NewRequest("POST", k.b.base+k.event+"/sync", bytes.NewReader(body))
	if err != nil {
		k.trial.t.Error(err)
		return
	}
	req.Header.Set("Content-Type", "application/json")
	res, err := k.b.http.Do(req)
	if err != nil {
		return // killed
	}
	defer res.Body.Close()
	var answer struct {
		Items []struct {
			RevisionID uuid.UUID `json:"revision_id"`
			Outcome    string
		}
	}
	text, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode >= 500 {
		return // its database was killed
	}
	if err := json.Unmarshal(text, &answer); err != nil || res.StatusCode != 200 || len(answer.Items) != len(batch) {
		k.trial.t.Errorf("%s: answer %d: %s", k.name, res.StatusCode, text)
		return
	}
	for i, it := range answer.Items {
		if it.RevisionID != batch[i].RevisionID || it.Outcome != "stored" && it.Outcome != "known" {
			k.trial.t.Errorf("%s: %+v", k.name, it)
			return
		}
		if it.Outcome == "known" {
			k.trial.known.Add(1)
		}
		k.acked[it.RevisionID] = true
	}
	k.outbox = append([]killItem{}, k.outbox[len(batch):]...)
	select {
	case k.trial.acked <- len(batch):
	default: // enough is told
	}
}

// postmaster is the process of the private PostgreSQL.
func postmaster(t *testing.T, data string) int {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(data, "data", "postmaster.pid"))
	if err != nil {
		t.Fatal(err)
	}
	line, _, _ := strings.Cut(string(text), "\n")
	pid, err := strconv.Atoi(line)
	if err != nil || pid <= 1 {
		t.Fatal(errors.Join(err, fmt.Errorf("process id %q", line)))
	}
	return pid
}

// freeAddress is an address that was free a moment ago: a server that is
// started again must be where it was.
func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}
