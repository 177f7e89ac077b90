package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/compose-spec/compose-go/v2/loader"
	"github.com/compose-spec/compose-go/v2/types"
)

// Images cannot be built by these tests: they check what can be said of the
// files without a container engine.

// compose loads docker-compose.yml as the compose specification's own library
// reads it, schema check included.
func compose(t *testing.T, environment types.Mapping) (*types.Project, error) {
	t.Helper()
	dir, err := filepath.Abs(root)
	if err != nil {
		t.Fatal(err)
	}
	return loader.LoadWithContext(context.Background(), types.ConfigDetails{
		WorkingDir:  dir,
		ConfigFiles: []types.ConfigFile{{Filename: filepath.Join(dir, "docker-compose.yml")}},
		Environment: environment,
	})
}

func TestComposeFile(t *testing.T) {
	t.Parallel()
	project, err := compose(t, types.Mapping{"SEXTANT_SITE": "sextant.test", "SEXTANT_DATABASE_PASSWORD": "secret word"})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for name, s := range project.Services {
		names = append(names, name)
		if s.HealthCheck == nil {
			t.Errorf("service %s has no health check", name)
		}
		if s.Restart == "" {
			t.Errorf("service %s does not start again after a fault", name)
		}
		if s.Build == nil && (!strings.Contains(s.Image, ":") || strings.HasSuffix(s.Image, ":latest")) {
			t.Errorf("service %s: image %q has no version", name, s.Image)
		}
		if len(s.Ports) > 0 && name != "caddy" {
			t.Errorf("service %s can be reached from outside; only caddy may", name)
		}
		for _, v := range s.Volumes {
			if _, err := os.Stat(v.Source); v.Type == types.VolumeTypeBind && err != nil {
				t.Errorf("service %s binds a file that is not in the tree: %v", name, err)
			}
		}
		for on, how := range s.DependsOn {
			if how.Condition != types.ServiceConditionHealthy {
				t.Errorf("service %s starts before %s is healthy", name, on)
			}
		}
	}
	slices.Sort(names)
	if want := []string{"caddy", "database", "server"}; !slices.Equal(names, want) {
		t.Errorf("services %v, want %v", names, want)
	}
	server := project.Services["server"]
	if _, err := os.Stat(filepath.Join(root, server.Build.Dockerfile)); err != nil {
		t.Errorf("the server's Dockerfile: %v", err)
	}
	if !project.Networks["back"].Internal {
		t.Error("the database's network reaches outside")
	}
}

func TestComposeFileWantsItsSettings(t *testing.T) {
	t.Parallel()
	for _, missing := range []string{"SEXTANT_SITE", "SEXTANT_DATABASE_PASSWORD"} {
		env := types.Mapping{"SEXTANT_SITE": "sextant.test", "SEXTANT_DATABASE_PASSWORD": "word"}
		delete(env, missing)
		if _, err := compose(t, env); err == nil || !strings.Contains(err.Error(), missing) {
			t.Errorf("without %s: error %v, want one that names it", missing, err)
		}
	}
}

// settings are the environment variables that the program's commands read.
func settings(t *testing.T) []string {
	t.Helper()
	parser, err := kong.New(&commands{}, kong.Bind(&streams{}), kong.BindTo(context.Background(), (*context.Context)(nil)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, command := range parser.Model.Children {
		for _, flag := range command.Flags {
			names = append(names, flag.Envs...)
		}
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// TestSettingsAreReal: every setting that a file of deploy names is one that
// the program reads, and the example names them all.
func TestSettingsAreReal(t *testing.T) {
	t.Parallel()
	known := settings(t)
	if !slices.Contains(known, "SEXTANT_LISTEN") {
		t.Fatalf("the commands' settings are %q; SEXTANT_LISTEN is not among them", known)
	}
	composeOnly := []string{"SEXTANT_SITE", "SEXTANT_DATABASE_PASSWORD"}
	form := regexp.MustCompile(`SEXTANT_[A-Z_]+`)
	for _, file := range []string{"docker-compose.yml", "deploy/settings.example", "deploy/Dockerfile", "deploy/Caddyfile", "deploy/sextant.service"} {
		text, err := os.ReadFile(filepath.Join(root, file))
		if err != nil {
			t.Fatal(err)
		}
		named := form.FindAllString(string(text), -1)
		for _, name := range named {
			if !slices.Contains(known, name) && !slices.Contains(composeOnly, name) {
				t.Errorf("%s names %s, which no command reads", file, name)
			}
		}
		if file != "deploy/settings.example" {
			continue
		}
		for _, name := range known {
			if strings.HasPrefix(name, "SEXTANT_") && !slices.Contains(named, name) {
				t.Errorf("%s does not tell of %s", file, name)
			}
		}
	}
}

// dockerfileProblems checks the habits that keep an image small and safe.
func dockerfileProblems(text string) (problems []string) {
	text = strings.ReplaceAll(text, "\\\n", " ")
	stages, user, entry, health := 0, "", "", false
	named := map[string]bool{}
	from := regexp.MustCompile(`^FROM (\S+)(?: AS (\S+))?$`)
	for n, line := range strings.Split(text, "\n") {
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch word {
		case "", "WORKDIR", "RUN", "ENV", "EXPOSE", "STOPSIGNAL", "CMD", "ARG", "LABEL":
		case "FROM":
			m := from.FindStringSubmatch(line)
			if m == nil {
				problems = append(problems, fmt.Sprintf("line %d: FROM is not understood", n+1))
				continue
			}
			if !named[m[1]] && (!strings.Contains(m[1], ":") || strings.HasSuffix(m[1], ":latest")) {
				problems = append(problems, fmt.Sprintf("line %d: image %s has no version", n+1, m[1]))
			}
			named[m[2]], user, entry, health = true, "", "", false
			stages++
		case "USER":
			user = rest
		case "ENTRYPOINT":
			entry = rest
		case "HEALTHCHECK":
			health = true
		case "COPY":
			if name, ok := strings.CutPrefix(strings.Fields(rest)[0], "--from="); ok && !named[name] {
				problems = append(problems, fmt.Sprintf("line %d: copies from %q, which is no stage", n+1, name))
			}
		default:
			if !strings.HasPrefix(word, "#") {
				problems = append(problems, fmt.Sprintf("line %d: %s is not wanted here", n+1, word))
			}
		}
	}
	if stages < 2 {
		problems = append(problems, "one stage only: tools end up in the image")
	}
	if user == "" || user == "root" || strings.HasPrefix(user, "0") {
		problems = append(problems, "the program runs as root")
	}
	if !strings.HasPrefix(entry, "[") {
		problems = append(problems, "ENTRYPOINT is not a list, so the program gets no signals")
	}
	if !health {
		problems = append(problems, "no HEALTHCHECK")
	}
	return problems
}

func TestDockerfile(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(filepath.Join(root, "deploy", "Dockerfile"))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range dockerfileProblems(string(text)) {
		t.Error("deploy/Dockerfile: " + p)
	}
	for _, line := range regexp.MustCompile(`(?m)^COPY (?:--\S+ )?(.*) \S+$`).FindAllStringSubmatch(string(text), -1) {
		for _, file := range strings.Fields(line[1]) {
			if strings.HasPrefix(file, "/") || file == "." { // from another stage
				continue
			}
			if _, err := os.Stat(filepath.Join(root, file)); err != nil {
				t.Errorf("deploy/Dockerfile copies what is not there: %v", err)
			}
		}
	}
	mod, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		t.Fatal(err)
	}
	version := regexp.MustCompile(`(?m)^go (\d+\.\d+)`).FindSubmatch(mod)
	if version == nil || !strings.Contains(string(text), "golang:"+string(version[1])+"-") {
		t.Errorf("deploy/Dockerfile does not build with the Go of go.mod (%s)", version)
	}
}

func TestDockerfileProblemsCatch(t *testing.T) {
	t.Parallel()
	bad := "FROM debian\nADD x /x\nCOPY --from=web a b\nENTRYPOINT sextant\n"
	if got := dockerfileProblems(bad); len(got) != 7 {
		t.Errorf("found %d problems, want 7: %q", len(got), got)
	}
}

// TestDocumentsAreTrue: what README.md and DEVELOPERS.md point to is there.
func TestDocumentsAreTrue(t *testing.T) {
	t.Parallel()
	parser, err := kong.New(&commands{}, kong.Bind(&streams{}), kong.BindTo(context.Background(), (*context.Context)(nil)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, command := range parser.Model.Children {
		names = append(names, command.Name)
	}
	link := regexp.MustCompile(`\]\(([^)#:]+)\)`)
	command := regexp.MustCompile("(?m)(?:^|`|bin/)sextant ([a-z]+)")
	script := regexp.MustCompile(`\bdeploy/[a-z.-]+[a-z]`)
	for _, file := range []string{"README.md", "DEVELOPERS.md"} {
		text, err := os.ReadFile(filepath.Join(root, file))
		if err != nil {
			t.Fatal(err)
		}
		paths := script.FindAllString(string(text), -1)
		for _, m := range link.FindAllStringSubmatch(string(text), -1) {
			paths = append(paths, m[1])
		}
		for _, path := range paths {
			if _, err := os.Stat(filepath.Join(root, path)); err != nil {
				t.Errorf("%s points to %s, which is not there", file, path)
			}
		}
		for _, m := range command.FindAllStringSubmatch(string(text), -1) {
			if !slices.Contains(names, m[1]) {
				t.Errorf("%s tells of sextant %s, which is no command", file, m[1])
			}
		}
	}
}
