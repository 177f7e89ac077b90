package api

import (
	"bufio"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"sextant/api/live"
	"sextant/store/storetest"
)

// TestStreamResumesAtAnotherServer: a browser's server goes away; what comes
// meanwhile is told by another one on the same database, by number, and nothing
// is told twice.
func TestStreamResumesAtAnotherServer(t *testing.T) {
	t.Parallel()
	db := storetest.New(t)
	first, second := serve(t, db), serve(t, db)
	lead := first.lead().withSchedule(4, 2)
	there := &client{f: second, http: &http.Client{Jar: lead.http.Jar, Timeout: 30 * time.Second}, event: lead.event}
	for _, c := range lead.http.Jar.Cookies(mustURL(t, first.base+"/")) {
		lead.http.Jar.SetCookies(mustURL(t, second.base+"/"), []*http.Cookie{c})
	}
	stream := lead.stream("")
	until(t, stream, "change")
	p := there.push(there.observation("Q3", "40101", leadName, 1))
	last := until(t, stream, "change")
	if last.id != fmt.Sprint(p.ChangeNo) {
		t.Fatalf("the first server tells of %s, want %d", last.id, p.ChangeNo)
	}
	first.srv.Drain() // it is shut down
	for range stream {
	}
	missed := there.push(there.observation("Q3", "40102", leadName, 1))
	resumed := there.stream(last.id)
	if m := until(t, resumed, "change"); m.id != fmt.Sprint(missed.ChangeNo) {
		t.Errorf("resumed after %s: told of %s, want %d", last.id, m.id, missed.ChangeNo)
	}
	var page struct {
		Items []feedItem `json:"items"`
	}
	there.get(".sync?after="+last.id).want(200, &page)
	if len(page.Items) != 1 || page.Items[0].ChangeNo != missed.ChangeNo {
		t.Errorf("fetched after %s: %+v", last.id, page.Items)
	}
	// Up to date, another server has nothing to tell until something happens.
	upToDate := there.stream(fmt.Sprint(missed.ChangeNo))
	next := there.push(there.observation("Q3", "40103", leadName, 1))
	if m := until(t, upToDate, "change"); m.id != fmt.Sprint(next.ChangeNo) {
		t.Errorf("up to date: told of %s, want %d", m.id, next.ChangeNo)
	}
}

// TestSlowReaderIsCut: a browser that does not read is cut off, and nobody
// waits for it meanwhile.
func TestSlowReaderIsCut(t *testing.T) {
	t.Parallel()
	f := newFixture(t)
	lead := f.lead()
	// The system must not take in what the browser does not read.
	small := &smallBuffers{}
	web := httptest.NewUnstartedServer(f.srv.Handler())
	small.Listener = web.Listener
	web.Listener = small
	web.Start()
	t.Cleanup(func() { web.CloseClientConnections(); web.Close() })

	var cookie string
	for _, c := range lead.http.Jar.Cookies(mustURL(t, f.base+"/")) {
		cookie = c.String()
	}
	open := func() *bufio.Scanner {
		conn, err := net.Dial("tcp", web.Listener.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		if err := conn.(*net.TCPConn).SetReadBuffer(1); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(conn, "GET /api/events/%s/changes HTTP/1.1\r\nHost: x\r\nCookie: %s\r\n\r\n", lead.event, cookie)
		lines := bufio.NewScanner(conn)
		for lines.Scan() && !strings.HasPrefix(lines.Text(), "id:") { // it is open
		}
		return lines
	}
	open() // and never read again
	quick := open()
	if n := f.srv.hub.Subscribers(); n != 2 {
		t.Fatalf("%d listen, want 2", n)
	}
	limit := time.Now().Add(time.Minute)
	for no := int64(1000); f.srv.hub.Subscribers() == 2; no++ {
		if time.Now().After(limit) {
			t.Fatal("nobody is cut off")
		}
		before := time.Now()
		f.srv.hub.Publish(lead.event, live.Message{Kind: live.Change, No: no})
		if took := time.Since(before); took > 5*time.Second {
			t.Fatalf("telling takes %v: it waits for the slow one", took)
		}
		want := fmt.Sprintf("id: %d", no)
		for quick.Scan() && quick.Text() != want {
		}
		if quick.Text() != want {
			t.Fatalf("the quick reader is not told of %d: %v", no, quick.Err())
		}
	}
	if n := f.srv.hub.Subscribers(); n != 1 {
		t.Errorf("%d listen, want the quick one", n)
	}
}

// smallBuffers gives each connection the smallest buffer for sending.
type smallBuffers struct{ net.Listener }

func (s *smallBuffers) Accept() (net.Conn, error) {
	conn, err := s.Listener.Accept()
	if tcp, ok := conn.(*net.TCPConn); ok {
		err = tcp.SetWriteBuffer(1)
	}
	return conn, err
}
