package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The tests of this file hold the rules of the house; DEVELOPERS.md says them
// in words.

// root is the folder of the module, seen from this package.
const root = "../.."

// mayImport says which packages of ours a package may import; a trailing /*
// stands for everything below. Test files are free.
var mayImport = map[string][]string{
	"cmd/sextant":               {"api", "api/*", "store", "store/localpg", "store/backup", "stats/*", "migrations", "frontend"},
	"api":                       {"api/auth", "api/live", "api/engine", "api/transfer", "api/hall", "api/photo", "store", "stats/game", "stats/record", "stats/table", "stats/forecast", "stats/brief", "stats/standings", "stats/backtest", "stats/selection", "stats/worth", "stats/rota", "stats/check", "frontend"},
	"api/auth":                  {"stats/record"},
	"api/live":                  {"stats/record"},
	"api/engine":                {"store", "stats/*"},
	"api/transfer":              {"store", "stats/game", "stats/record", "stats/table"},
	"api/hall":                  {},
	"api/photo":                 {},
	"store":                     {"stats/game", "stats/record", "migrations"},
	"store/localpg":             {},
	"store/backup":              {"store"},
	"store/storetest":           {"store", "store/localpg", "migrations", "stats/game", "stats/record"},
	"stats":                     {},
	"stats/game":                {},
	"stats/record":              {"stats/game"},
	"stats/table":               {"stats/record", "stats/game"},
	"stats/generate":            {"stats/record", "stats/game"},
	"stats/contrib":             {"stats/contrib/*", "stats/record", "stats/game"},
	"stats/contrib/statespace":  {},
	"stats/contrib/fused":       {"stats/contrib/statespace", "stats/record", "stats/game"},
	"stats/contrib/contribtest": {"stats/contrib", "stats/record", "stats/game"},
	"stats/rota":                {"stats/contrib", "stats/record"},
	"stats/check":               {"stats/contrib", "stats/record", "stats/game"},
	"stats/simulate":            {"stats/contrib", "stats/record", "stats/game"},
	"stats/forecast":            {"stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/brief":               {"stats/forecast", "stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/standings":           {"stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/backtest":            {"stats/forecast", "stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/selection":           {"stats/record", "stats/game"},
	"stats/bracket":             {"stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/worth":               {"stats/selection", "stats/bracket", "stats/simulate", "stats/contrib", "stats/record", "stats/game"},
	"stats/judge":               {"stats/record", "stats/game"},
	"stats/study":               {"stats/*"},
	"migrations":                {},
	"frontend":                  {},
}

// onlyIn says where a library of others, or a package of the standard library,
// may be imported.
var onlyIn = map[string][]string{
	"github.com/alecthomas/kong":    {"cmd/*"},
	"github.com/labstack/echo":      {"api"},
	"github.com/danielgtaylor/huma": {"api"},
	"github.com/jackc/pgx":          {"store", "store/*"},
	"github.com/golang-migrate":     {"store", "store/*"},
	"gonum.org/v1/gonum":            {"stats/*"},
	"github.com/santhosh-tekuri":    {"stats/game"},
	"database/sql":                  {"store", "store/*"},
	"net/http":                      {"cmd/*", "api", "api/*", "frontend"},
	"golang.org/x/crypto":           {"api", "api/*", "store", "cmd/*"},
	"github.com/prometheus":         {"api", "api/*", "cmd/*"},
	"math/rand":                     {}, // math/rand/v2 instead
	"github.com/google/go-cmp":      {}, // tests only
	"sextant/store/storetest":       {}, // tests only
	"github.com/pion":               {"api/hall"},
	"github.com/compose-spec":       {}, // tests only
	"log":                           {}, // log/slog instead
}

func matches(pattern, pkg string) bool {
	if below, ok := strings.CutSuffix(pattern, "/*"); ok {
		return strings.HasPrefix(pkg, below+"/")
	}
	return pattern == pkg
}

// importProblem says what is wrong with pkg importing imported; "" if nothing.
func importProblem(pkg, imported string) string {
	_, special := onlyIn[imported]
	if ours, ok := strings.CutPrefix(imported, "sextant/"); ok && !special {
		may, known := mayImport[pkg]
		if !known {
			return fmt.Sprintf("%s is a package that mayImport does not know: say there whom it may import", pkg)
		}
		if !slices.ContainsFunc(may, func(p string) bool { return matches(p, ours) }) {
			return fmt.Sprintf("%s imports %s; it may import %v", pkg, ours, may)
		}
		return ""
	}
	longest, where := "", []string(nil)
	for prefix, in := range onlyIn {
		whole := imported == prefix || strings.HasPrefix(imported, prefix+"/")
		if prefix == "math/rand" || prefix == "log" || prefix == "net/http" { // their sub-packages are other things
			whole = imported == prefix
		}
		if whole && len(prefix) > len(longest) {
			longest, where = prefix, in
		}
	}
	if longest == "" || slices.ContainsFunc(where, func(p string) bool { return matches(p, pkg) }) {
		return ""
	}
	return fmt.Sprintf("%s imports %s; only %v may", pkg, imported, where)
}

func TestImportRules(t *testing.T) {
	t.Parallel()
	gone := maps.Clone(mayImport)
	for _, p := range packages(t) {
		pkg := strings.TrimPrefix(p.ImportPath, "sextant/")
		delete(gone, pkg)
		if _, known := mayImport[pkg]; !known {
			t.Errorf("%s is a package that mayImport does not know: say there whom it may import", pkg)
		}
		for _, imported := range p.Imports {
			if problem := importProblem(pkg, imported); problem != "" {
				t.Error(problem)
			}
		}
	}
	for pkg := range gone {
		t.Errorf("mayImport has a row for %s, and there is no such package: take the row out", pkg)
	}
}

func TestImportRulesCatch(t *testing.T) {
	t.Parallel()
	tests := []struct {
		pkg, imported string
		bad           bool
	}{
		{"stats/game", "sextant/stats/record", true},
		{"stats/record", "sextant/stats/game", false},
		{"stats/contrib", "net/http", true},
		{"stats/contrib", "gonum.org/v1/gonum/mat", false},
		{"api/engine", "gonum.org/v1/gonum/mat", true},
		{"api", "github.com/jackc/pgx/v5", true},
		{"store/localpg", "github.com/jackc/pgx/v5", false},
		{"api/engine", "github.com/labstack/echo/v4", true},
		{"api", "sextant/store/storetest", true},
		{"stats/generate", "math/rand", true},
		{"stats/generate", "math/rand/v2", false},
		{"store", "log/slog", false},
		{"attic", "sextant/store", true},
		{"cmd/sextant", "sextant/stats/generate", false},
	}
	for _, tt := range tests {
		if got := importProblem(tt.pkg, tt.imported); (got != "") != tt.bad {
			t.Errorf("importProblem(%q, %q) = %q, want a problem: %t", tt.pkg, tt.imported, got, tt.bad)
		}
	}
}

// listed is what `go list -json` tells of a package.
type listed struct {
	ImportPath, Dir           string
	GoFiles, Imports          []string
	TestGoFiles, XTestGoFiles []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestGoFiles,XTestGoFiles", "./...")
	cmd.Dir = root
	out, err := cmd.Output()
	if err != nil {
		var failed *exec.ExitError
		if errors.As(err, &failed) {
			t.Fatalf("go list: %s", failed.Stderr)
		}
		t.Fatal(err)
	}
	var all []listed
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

func TestEveryPackageHasItsDoc(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		text := ""
		for _, name := range []string{"doc.go", "embed.go", path.Base(p.ImportPath) + ".go"} {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, parser.ParseComments|parser.PackageClauseOnly)
			if err == nil && file.Doc != nil {
				text = file.Doc.Text()
				break
			}
		}
		if len(text) < 120 {
			t.Errorf("%s: no doc.go says what it answers, what it never does and who may import it; there is only %q", p.ImportPath, text)
		}
	}
}

// TestStatsArePure holds that stats has no clock and no randomness of its own.
func TestStatsArePure(t *testing.T) {
	t.Parallel()
	for _, p := range packages(t) {
		if !strings.HasPrefix(p.ImportPath, "sextant/stats/") {
			continue
		}
		for _, name := range p.GoFiles {
			src, err := os.ReadFile(filepath.Join(p.Dir, name))
			if err != nil {
				t.Fatal(err)
			}
			for _, problem := range impure(t, name, src) {
				t.Errorf("%s: %s", p.ImportPath, problem)
			}
		}
	}
}

// impure lists uses of the clock, of the shared random source and of files.
func impure(t *testing.T, name string, src []byte) (problems []string) {
	t.Helper()
	fset := token.NewFileSet()
	file, err := parser.ParseFile(fset, name, src, 0)
	if err != nil {
		t.Fatal(err)
	}
	local := map[string]string{} // name in the file → import path
	for _, imp := range file.Imports {
		p := strings.Trim(imp.Path.Value, `"`)
		base := path.Base(p)
		if p == "math/rand/v2" {
			base = "rand"
		}
		if imp.Name != nil {
			base = imp.Name.Name
		}
		local[base] = p
		if p == "os" || p == "os/exec" || p == "net" {
			problems = append(problems, fmt.Sprintf("%s imports %s", name, p))
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		x, ok := sel.X.(*ast.Ident)
		if !ok {
			return true
		}
		shared := local[x.Name] == "math/rand/v2" && !strings.HasPrefix(sel.Sel.Name, "New") && !slices.Contains([]string{"Rand", "Source", "PCG", "ChaCha8", "Zipf"}, sel.Sel.Name)
		clock := local[x.Name] == "time" && slices.Contains([]string{"Now", "Since", "Until", "After", "Sleep", "Tick"}, sel.Sel.Name)
		if shared || clock {
			problems = append(problems, fmt.Sprintf("%s uses %s.%s", fset.Position(sel.Pos()), x.Name, sel.Sel.Name))
		}
		return true
	})
	return problems
}

func TestStatsArePureCatches(t *testing.T) {
	t.Parallel()
	bad := "package x\nimport (\"time\"; \"math/rand/v2\"; \"os\")\nvar a = time.Now()\nvar b = rand.IntN(3)\nvar c = os.Args\n"
	if got := impure(t, "x.go", []byte(bad)); len(got) != 3 {
		t.Errorf("impure found %q, want three problems", got)
	}
	good := "package x\nimport (\"time\"; \"math/rand/v2\")\nvar a time.Time\nfunc f(r *rand.Rand) *rand.Rand { return rand.New(rand.NewPCG(r.Uint64(), 1)) }\n"
	if got := impure(t, "x.go", []byte(good)); len(got) != 0 {
		t.Errorf("impure complains of %q", got)
	}
}

// TestStatsBuildForTheBrowser keeps it possible to run the estimates in a
// browser without a server; cmd/worthwasm, which is built for it alone, may
// import nothing else of ours.
func TestStatsBuildForTheBrowser(t *testing.T) {
	t.Parallel()
	browser := func(args ...string) string {
		cmd := exec.Command("go", args...)
		cmd.Dir = root
		cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Errorf("stats does not build for js/wasm: %v\n%s", err, out)
		}
		return string(out)
	}
	browser("build", "./stats/...")
	ours := 0
	for _, pkg := range strings.Fields(browser("list", "-deps", "./cmd/worthwasm")) {
		if own, ok := strings.CutPrefix(pkg, "sextant/"); ok && own != "cmd/worthwasm" {
			if ours++; !matches("stats/*", own) {
				t.Errorf("cmd/worthwasm needs %s; in a browser there is stats alone", own)
			}
		}
	}
	if ours == 0 {
		t.Error("cmd/worthwasm needs nothing of ours")
	}
}

// tracked lists the files that git knows or would add, with / in their paths.
func tracked(t *testing.T) []string {
	t.Helper()
	cmd := exec.Command("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	cmd.Dir = root
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("git ls-files (this test needs a clone): %v", err)
	}
	return strings.Split(strings.TrimRight(string(out), "\x00"), "\x00")
}

func TestTreeHasItsNames(t *testing.T) {
	t.Parallel()
	top := []string{"api", "cmd", "deploy", "frontend", "migrations", "stats", "store", "testdata",
		"DEVELOPERS.md", "README.md", "docker-compose.yml", "go.mod", "go.sum"}
	for _, file := range tracked(t) {
		first, _, _ := strings.Cut(file, "/")
		if !strings.HasPrefix(first, ".") && !slices.Contains(top, first) {
			t.Errorf("%s: %q has no place in the top folder", file, first)
		}
	}
}

// What no file may say. The patterns avoid matching themselves.
var unwanted = map[string]*regexp.Regexp{
	"a note of unfinished work":     regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME|XX` + `X)\b`),
	"the host name of a registry":   regexp.MustCompile(`\b(registry|proxy|deb|sum)\.(npm[a-z]*|golang|debian|yarn[a-z]*)\.[a-z]+`),
	"a path of somebody's machine":  regexp.MustCompile(`(^|[\s"'(=])/(work|home|root)/`),
	"a place outside the tree":      regexp.MustCompile(`\bshared/(design|reference|peers|hooks)`),
	"a number of the issue tracker": regexp.MustCompile(`(?i)\bissues? #?[0-9]+\b`),
}

func TestFilesSayNothingUnwanted(t *testing.T) {
	t.Parallel()
	for _, file := range tracked(t) {
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(file)))
		if errors.Is(err, os.ErrNotExist) { // removed and not committed yet
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if bytes.IndexByte(text, 0) >= 0 { // a picture or a font
			continue
		}
		for what, pattern := range unwanted {
			if at := pattern.FindIndex(text); at != nil {
				line := 1 + bytes.Count(text[:at[0]], []byte("\n"))
				t.Errorf("%s:%d: %s: %q", file, line, what, text[at[0]:at[1]])
			}
		}
		if file == "frontend/package-lock.json" && bytes.Contains(text, []byte(`"resolved": "http`)) {
			t.Errorf("%s names hosts: set omit-lockfile-registry-resolved=true in .npmrc and write it anew", file)
		}
	}
}

func TestUnwantedCatches(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"x // TO" + "DO later", "see /wo" + "rk/main", "as in is" + "sue 2", "regis" + "try.npm" + "xy.org", "../sha" + "red/design"} {
		if !slices.ContainsFunc(slices.Collect(maps.Values(unwanted)), func(r *regexp.Regexp) bool { return r.MatchString(text) }) {
			t.Errorf("nothing catches %q", text)
		}
	}
}

// How many lines a file that people edit may have: aim at 500.
const (
	longest     = 550
	longestTest = 700 // tables of cases are long and easy to read
)

func TestFilesStayShort(t *testing.T) {
	t.Parallel()
	generated := regexp.MustCompile(`(\.gen\.|/generated/|schema\.d\.ts$|/api/types\.ts$)`)
	for _, file := range tracked(t) {
		if !slices.Contains([]string{".go", ".ts", ".svelte", ".css", ".js", ".mjs"}, path.Ext(file)) || generated.MatchString(file) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(root, filepath.FromSlash(file)))
		if err != nil {
			continue
		}
		most := longest
		if strings.Contains(path.Base(file), "_test.") || strings.Contains(path.Base(file), ".test.") {
			most = longestTest
		}
		if n := bytes.Count(text, []byte("\n")); n > most {
			t.Errorf("%s has %d lines; split what is over %d", file, n, most)
		}
	}
}
