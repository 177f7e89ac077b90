package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/google/uuid"

	"sextant/stats/record"
)

// eventPrinted is the event that an import prints.
var eventPrinted = regexp.MustCompile(`\(([0-9a-f-]{36})\): \d+ new revisions`)

// TestRedactedExport gives an event away: restored beside the event that it was
// made of it says the same of all robots, under other names of scouts, which are
// those of the tables.
func TestRedactedExport(t *testing.T) {
	t.Parallel()
	s := newShore(t)
	a := s.a.String()
	files := simulate(t, "--seed", "12", "--teams", "24", "--matches-per-team", "6", "--runs", "2")
	for _, name := range []string{"teams", "matches", "observations", "marks"} {
		s.run(files[name+".csv"], exitDone, "import", "--table", name, "-", "--into", a)
	}
	s.run("rank,team\n"+"1,"+firstTeam(files["teams.csv"])+"\n", exitDone, "import", "--table", "picklist", "-", "--into", a)

	file := filepath.Join(t.TempDir(), "given.ndjson")
	s.run("", exitDone, "export", a, "--redact", "people,strategy", "-o", file)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), a) || strings.Contains(string(text), "picklist") {
		t.Error("the file names the event that it was made of, or its list")
	}
	out, _ := s.run("", exitDone, "import", file)
	m := eventPrinted.FindStringSubmatch(out)
	if m == nil {
		t.Fatalf("it prints %q", out)
	}
	given := uuid.MustParse(m[1])

	want, got := s.estimate(s.a), s.estimate(given)
	if want.Fit.Records == 0 || len(want.Fit.Scouts) == 0 {
		t.Fatalf("the estimates know %d records of %d scouts", want.Fit.Records, len(want.Fit.Scouts))
	}
	// Scouts have other names, so they stand in another order, and sums are made in it.
	for _, e := range []*record.Estimate{&want, &got} {
		slices.SortFunc(e.Fit.Scouts, func(a, b record.Scout) int {
			switch {
			case a.Bias != b.Bias:
				return map[bool]int{true: -1, false: 1}[a.Bias < b.Bias]
			}
			return strings.Compare(a.Scout, b.Scout)
		})
		for i := range e.Fit.Scouts {
			e.Fit.Scouts[i].Scout = ""
		}
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-6, 1e-9)); diff != "" {
		t.Errorf("the estimates differ (-before +given):\n%s", diff)
	}

	// A table that is given away is of the same scouts, and a row of it finds its record.
	rows, _ := s.run("", exitDone, "export", a, "--form", "csv", "--table", "observations", "--redact", "people")
	if out, _ := s.run(rows, exitDone, "import", "--table", "observations", "-", "--into", given.String()); !strings.Contains(out, " 0 new, 0 changed, 0 removed") {
		t.Errorf("the table and the event disagree: %s", out)
	}
	for _, tt := range []struct {
		says string
		args []string
	}{
		{"nothing but plans", []string{"export", a, "--form", "csv", "--table", "picklist", "--redact", "strategy"}},
		{"--redact", []string{"export", a, "--redact", "teams"}},
	} {
		if _, errs := s.run("", exitUsage, tt.args...); !strings.Contains(errs, tt.says) {
			t.Errorf("%q: says %q", tt.args, errs)
		}
	}
	// It is another event: it cannot be mixed with the one that it was made of.
	s.run("", exitUsage, "import", file, "--into", a)
}

func firstTeam(csv string) string {
	_, rows, _ := strings.Cut(csv, "\n")
	team, _, _ := strings.Cut(rows, ",")
	return team
}
