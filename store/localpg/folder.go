package localpg

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
)

// folder is the data root of a private server:
//
//	lock       held while a process runs the server
//	password   of the server's only user
//	data       PostgreSQL's own; made under the name data.new
//	run        the socket
type folder struct {
	root  string
	major int // of the data; 0: none yet
	owner user
}

func (d folder) data() string     { return filepath.Join(d.root, "data") }
func (d folder) fresh() string    { return filepath.Join(d.root, "data.new") }
func (d folder) run() string      { return filepath.Join(d.root, "run") }
func (d folder) password() string { return filepath.Join(d.root, "password") }

// version is the major version that made the data, 0 if there is none.
func (d folder) version() (int, error) {
	if _, err := os.Lstat(d.data()); errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	} else if err != nil {
		return 0, err
	}
	const advice = "nothing was changed; move it away, or choose another data folder"
	raw, err := os.ReadFile(filepath.Join(d.data(), "PG_VERSION"))
	if err != nil {
		return 0, fmt.Errorf("%w: %s: %w; %s", ErrNotData, d.data(), err, advice)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(raw)))
	if err != nil || major < 10 {
		return 0, fmt.Errorf("%w: %s: its PG_VERSION says %q; %s", ErrNotData, d.data(), raw, advice)
	}
	return major, nil
}

// prepare makes the data the first time, and what belongs beside it.
func (d folder) prepare(ctx context.Context, bin binaries, logger *slog.Logger) error {
	// The root is the server's own too: initdb makes data.new in it.
	if err := d.owner.own(d.root); err != nil {
		return err
	}
	if err := os.Mkdir(d.run(), 0o700); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := d.owner.own(d.run()); err != nil {
		return err
	}
	if d.major != 0 {
		return nil
	}
	// What an initdb left that was cut short. No server ever ran in it: only
	// the rename below makes it data.
	if err := os.RemoveAll(d.fresh()); err != nil {
		return fmt.Errorf("remove an unfinished data folder: %w", err)
	}
	if err := os.WriteFile(d.password(), []byte(rand.Text()), 0o600); err != nil {
		return fmt.Errorf("write the server's password: %w", err)
	}
	// initdb reads the file as the server's user and refuses one it does not own.
	if err := d.owner.own(d.password()); err != nil {
		return err
	}
	args := []string{
		"-D", d.fresh(), "-U", userName, "-E", "UTF8", "--auth=scram-sha-256", "--pwfile=" + d.password(),
		"--data-checksums", "--locale=C",
	}
	if bin.major >= 17 { // before, plain C is all there is without a system's locales
		args = append(args, "--locale-provider=builtin", "--builtin-locale=C.UTF-8")
	}
	cmd := exec.CommandContext(ctx, bin.initdb(), args...)
	cmd.Dir = d.root
	cmd.Env = environment()
	cmd.SysProcAttr = attributes(d.owner, false)
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	logger.InfoContext(ctx, "making a new database", "folder", d.data(), "postgresql", bin.major)
	runtime.LockOSThread() // see launch: it must end with us, or the next start would meet it
	err := cmd.Run()
	runtime.UnlockOSThread()
	if err != nil {
		return fmt.Errorf("make a new data folder: initdb: %w; it said:\n%s", err, strings.TrimSpace(out.String()))
	}
	if err := os.Rename(d.fresh(), d.data()); err != nil {
		return fmt.Errorf("make a new data folder: %w", err)
	}
	return syncDir(d.root)
}

// environment is all that the server and initdb get: no secret of ours, no
// setting of the caller's.
func environment() []string {
	env := []string{"LC_ALL=C", "TZ=UTC"}
	for _, name := range []string{"PATH", "SystemRoot", "TEMP"} {
		if v, ok := os.LookupEnv(name); ok {
			env = append(env, name+"="+v)
		}
	}
	return env
}

// syncDir makes a rename within dir last through a loss of power.
func syncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := f.Sync(); err != nil && haveSockets { // other systems cannot sync a folder
		return fmt.Errorf("sync %s: %w", dir, err)
	}
	return nil
}
