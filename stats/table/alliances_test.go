package table_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"sextant/stats/record"
	"sextant/stats/table"
)

func TestAlliances(t *testing.T) {
	t.Parallel()
	text := "alliance,captain,picks\n2,40103,\n1,40101,40102 40117B\n"
	got, err := table.ReadAlliances("alliances.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	want := []record.SelectedAlliance{
		{Alliance: 1, Captain: "40101", Picks: []record.TeamID{"40102", "40117B"}},
		{Alliance: 2, Captain: "40103", Picks: []record.TeamID{}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	var out bytes.Buffer
	if err := table.WriteAlliances(&out, got); err != nil {
		t.Fatal(err)
	}
	if want := "alliance,captain,picks\r\n1,40101,40102 40117B\r\n2,40103,\r\n"; strings.ReplaceAll(out.String(), "\r\n", "\n") != strings.ReplaceAll(want, "\r\n", "\n") {
		t.Errorf("written: %q", out.String())
	}
}

func TestAlliancesRefused(t *testing.T) {
	t.Parallel()
	for name, tt := range map[string]struct {
		text   string
		line   int
		column string
	}{
		"Gap":      {"alliance,captain,picks\n1,40101,\n3,40102,\n", 0, "alliance"},
		"Twice":    {"alliance,captain,picks\n1,40101,\n1,40102,\n", 3, "alliance"},
		"TwoIn":    {"alliance,captain,picks\n1,40101,40102\n2,40102,\n", 3, "captain"},
		"Captain":  {"alliance,captain,picks\n1,,40102\n", 2, "captain"},
		"Pick":     {"alliance,captain,picks\n1,40101,abc\n", 2, "picks"},
		"Column":   {"alliance,captain,picks,luck\n1,40101,,9\n", 1, "luck"},
		"NoPicks":  {"alliance,captain\n1,40101\n", 1, "picks"},
		"Nothing":  {"alliance,captain,picks\n", 1, "alliance"},
		"Number":   {"alliance,captain,picks\nred,40101,\n", 2, "alliance"},
		"PickSelf": {"alliance,captain,picks\n1,40101,40101\n", 2, "picks"},
	} {
		_, err := table.ReadAlliances("alliances.csv", strings.NewReader(tt.text))
		var errs table.Errors
		if !errors.As(err, &errs) {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if errs[0].Line != tt.line || errs[0].Column != tt.column {
			t.Errorf("%s: %v, want line %d, column %s", name, errs[0], tt.line, tt.column)
		}
	}
}
