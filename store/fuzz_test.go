package store_test

import (
	"errors"
	"strings"
	"testing"

	"sextant/store"
)

// FuzzReadExport: a file is an export from its head to its end, or the line
// that is wrong is named.
func FuzzReadExport(f *testing.F) {
	lines := []string{
		`{"type":"sextant_event","version":1,"event_id":"0195f000-0000-7000-8000-000000000001","made_at":"2031-03-06T15:00:00Z"}`,
		`{"type":"game","hash":"h","text":"{}"}`,
		`{"type":"event","name":"x","zone":"UTC","game_hash":"h","overrides":{},"change_no":1,"data_no":1,"made_at":"2031-03-06T15:00:00Z"}`,
		`{"type":"team","team":"40101","name":"a"}`,
		`{"type":"match","match":"Q1","play":1,"red":{"teams":["40101"]},"blue":{"teams":["40102"]}}`,
		`{"type":"member","member_id":"0195f000-0000-7000-8000-000000000002","role":"lead","nickname":"ada","made_at":"2031-03-06T15:00:00Z"}`,
		`{"type":"revision","revision_id":"0195f000-0000-7000-8000-000000000003","record_id":"0195f000-0000-7000-8000-000000000004","parents":[],"kind":"note","lamport":1,"author":"ada","role":"lead","device_id":"","made_at":"2031-03-06T15:00:00Z","body":{"text":"x"},"received_at":"2031-03-06T15:00:00Z","via":"sync","change_no":1,"audience":"staff"}`,
		`{"type":"change","change_no":1,"kind":"teams","audience":"all"}`,
		`{"type":"audit","audit_id":"0195f000-0000-7000-8000-000000000005","at":"2031-03-06T15:00:00Z","what":"x","detail":{}}`,
	}
	whole := strings.Join(lines, "\n") + "\n" + `{"type":"end","lines":10}` + "\n"
	if n, err := store.ReadExport(strings.NewReader(whole)); err != nil || n != 1 {
		f.Fatalf("the first seed is not an export: %d, %v", n, err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add("")
	f.Add(lines[0] + "\n")
	f.Add(strings.Replace(whole, `"body":{"text":"x"}`, `"body":[]`, 1))
	f.Add(strings.Replace(whole, `"note"`, `"observation"`, 1))
	f.Add(strings.Replace(whole, `"overrides":{}`, `"overrides":null`, 1))
	f.Fuzz(func(t *testing.T, text string) {
		_, err := store.ReadExport(strings.NewReader(text))
		var line *store.LineError
		switch {
		case err == nil && (!strings.HasPrefix(text, "{") && !strings.Contains(text, "sextant_event")):
			t.Errorf("taken for an export: %q", text)
		case err != nil && (!errors.As(err, &line) || line.Line < 1 || line.Line > strings.Count(text, "\n")+2 || line.Message == ""):
			t.Errorf("no line is named: %v", err)
		}
	})
}
