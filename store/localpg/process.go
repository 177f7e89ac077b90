package localpg

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"time"
)

// process is the server as a child.
type process struct {
	pid  int
	cmd  *exec.Cmd
	done chan struct{} // closed after Wait

	mu   sync.Mutex
	last []string // its last lines
}

const keepLines = 20

// launch starts the server. It dies with this process (Linux).
func launch(path string, args []string, dir string, owner user, logger *slog.Logger) (*process, error) {
	p := &process{cmd: exec.Command(path, args...), done: make(chan struct{})}
	p.cmd.Dir = dir
	p.cmd.Env = environment()
	p.cmd.SysProcAttr = attributes(owner, true)
	errOut, err := p.cmd.StderrPipe()
	if err != nil {
		return nil, err
	}
	started := make(chan error)
	go func() {
		// The kernel sends the death signal when the thread that forked ends,
		// so that thread must live as long as the server. It is not unlocked:
		// it ends with this goroutine.
		runtime.LockOSThread()
		err := p.cmd.Start()
		started <- err
		if err != nil {
			return
		}
		p.read(bufio.NewReader(errOut), logger)
		p.cmd.Wait() // how it went is in ProcessState
		close(p.done)
	}()
	if err := <-started; err != nil {
		return nil, fmt.Errorf("run %s: %w", path, err)
	}
	p.pid = p.cmd.Process.Pid
	return p, nil
}

// read passes the server's lines on until it ends. It must go on in any case:
// a server that cannot write its log stands still.
func (p *process) read(from *bufio.Reader, logger *slog.Logger) {
	for {
		raw, more, err := from.ReadLine()
		if err != nil {
			return
		}
		line := string(raw)
		for more && err == nil { // longer than the buffer: the start is enough
			_, more, err = from.ReadLine()
		}
		p.mu.Lock()
		p.last = append(p.last, line)
		if len(p.last) > keepLines {
			p.last = p.last[1:]
		}
		p.mu.Unlock()
		level := slog.LevelDebug
		if strings.Contains(line, "FATAL:") || strings.Contains(line, "PANIC:") {
			level = slog.LevelWarn
		}
		logger.Log(context.Background(), level, "postgresql", "line", line)
	}
}

func (p *process) tail() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return strings.Join(p.last, "\n")
}

func (p *process) said(text string) bool { return strings.Contains(p.tail(), text) }

// how says how the process ended; only after done.
func (p *process) how() string { return p.cmd.ProcessState.String() }

// end asks the server to end, then tells it to drop everything, then kills it.
func (p *process) end(patience, more time.Duration) {
	for _, step := range []struct {
		ask  func(*process)
		wait time.Duration
	}{{(*process).askFast, patience}, {(*process).askNow, more}} {
		step.ask(p)
		timer := time.NewTimer(step.wait)
		select {
		case <-p.done:
			timer.Stop()
			return
		case <-timer.C:
		}
	}
	p.kill()
	<-p.done
}

// clearUp makes sure that nothing uses the data, and removes what a server
// that was killed left behind. The caller holds the lock of the folder, so a
// server that still runs here has lost its parent and is on its way out.
func clearUp(ctx context.Context, d folder, logger *slog.Logger) error {
	pidFile := filepath.Join(d.data(), "postmaster.pid")
	noted := pidIn(pidFile)
	if left := serversIn(d.data()); len(left) > 0 {
		logger.WarnContext(ctx, "waiting for an earlier server to end", "pids", left)
		limit, cancel := context.WithTimeout(ctx, fastShutdown)
		defer cancel()
		tick := time.NewTicker(pollEvery)
		defer tick.Stop()
		for len(left) > 0 {
			for _, pid := range left {
				if pid == noted {
					interrupt(pid) // the backends end with it
				}
			}
			select {
			case <-limit.Done():
				return fmt.Errorf("%w: PostgreSQL processes %v of an earlier run do not end; end them and try again", ErrInUse, left)
			case <-tick.C:
			}
			left = serversIn(d.data())
		}
	}
	// Nobody is left, so these are stale, even if their process id lives on:
	// as somebody else's, or as a zombie that nobody waits for. The server
	// itself would take either for a running one.
	if canSeeServers && noted != 0 {
		if err := os.Remove(pidFile); err != nil && !os.IsNotExist(err) {
			return err
		}
	}
	stale, err := filepath.Glob(filepath.Join(d.run(), ".s.PGSQL.*"))
	if err != nil {
		return err
	}
	for _, file := range stale {
		if err := os.Remove(file); err != nil && !os.IsNotExist(err) {
			return err
		}
	}
	return nil
}

// pidIn reads the process id on the first line of a lock file; 0: none.
func pidIn(file string) int {
	raw, err := os.ReadFile(file)
	if err != nil {
		return 0
	}
	line, _, _ := strings.Cut(string(raw), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(line))
	if err != nil {
		return 0
	}
	return pid
}
