package table_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"sextant/stats/record"
	"sextant/stats/table"
)

// FuzzForms: no file makes a reader panic; errors are told on one line; what is
// read, written and read again is the same, and so are the bytes.
func FuzzForms(f *testing.F) {
	for i, form := range forms(load(f, "millrace.json")) {
		lines := strings.SplitAfter(string(file(f, "events", "millrace", form.name)), "\n")
		f.Add(byte(i), []byte(strings.Join(lines[:min(len(lines), 5)], "")))
	}
	f.Add(byte(1), []byte("match,alliance,teams,score,robots:ramp\nQ1,red,1 2,-0.50,- top\nQ1,blue,3 4,7,\n"))
	f.Add(byte(2), []byte("match,team,scout,note,style\nQ1,1,'=x,''-,\"a\r\nb\"\n"))
	all := forms(load(f, "millrace.json"))
	f.Fuzz(func(t *testing.T, which byte, data []byte) {
		form := all[int(which)%len(all)]
		v, err := form.read(bytes.NewReader(data))
		if err != nil {
			var errs table.Errors
			if !errors.As(err, &errs) || strings.Contains(err.Error(), "\n") || errs[0].Message == "" {
				t.Errorf("error %T %q", err, err)
			}
			return
		}
		var first, second bytes.Buffer
		if err := form.write(&first, v); err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, err := form.read(bytes.NewReader(first.Bytes()))
		if err != nil {
			t.Fatalf("what was written cannot be read: %v\n%s", err, first.Bytes())
		}
		if err := form.write(&second, again); err != nil {
			t.Fatal(err)
		}
		if first.String() != second.String() {
			t.Errorf("written\n%q\nand again\n%q", first.String(), second.String())
		}
	})
}

// FuzzBody: an observation that a device may send can be written as a row, and
// reads back as what it said, but for the timeline.
func FuzzBody(f *testing.F) {
	f.Add([]byte(`{"match":"Q1","team":"40117","scout":"=s","counts":{"deck":{"made":5,"missed":1},"cast_off":{"made":1},"hold":{"missed":2}},"choices":{"mooring":{"option":"lifted"}},"fouls":{"minor":0},"answers":{"start":"left","stopped":1.5},"note":"'-x\n","taps":[[1200,"deck",1]],"edited":true}`))
	f.Add([]byte(`{"match":"P1","play":2,"team":"1B","scout":"a b","absent":true,"note":"-"}`))
	f.Add([]byte(`{"match":"Q1","team":"1","scout":"s","answers":{"stopped":1e-9}}`))
	g := load(f, "slackwater.json")
	f.Fuzz(func(t *testing.T, body []byte) {
		if len(record.CheckBody(g, record.KindObservation, body)) > 0 {
			return
		}
		var o record.Observation
		if err := json.Unmarshal(body, &o); err != nil {
			t.Fatalf("CheckBody took what cannot be read: %v", err)
		}
		o.Discarded = false
		var b bytes.Buffer
		if err := table.WriteObservations(&b, g, []record.Observation{o}); err != nil {
			t.Fatal(err)
		}
		got, err := table.ReadObservations("o.csv", &b, g)
		if err != nil || len(got) != 1 {
			t.Fatalf("%d rows, %v\n%s", len(got), err, b.String())
		}
		var again, once bytes.Buffer
		if err := table.WriteObservations(&again, g, got); err != nil {
			t.Fatal(err)
		}
		if err := table.WriteObservations(&once, g, []record.Observation{o}); err != nil {
			t.Fatal(err)
		}
		if once.String() != again.String() || got[0].Key() != o.Key() || got[0].Absent != o.Absent || got[0].Note != o.Note {
			t.Errorf("%+v\nbecame %+v", o, got[0])
		}
	})
}
