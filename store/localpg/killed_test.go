//go:build unix

package localpg

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// TestStaleFiles: what a killed server leaves behind does not stop the next
// one, even where the process ids in it live on.
func TestStaleFiles(t *testing.T) {
	t.Parallel()
	dir := root(t)
	srv := start(t, Options{DataDir: dir})
	exec1(t, connect(t, srv), `create table kept (n int)`)
	pidFile := filepath.Join(dir, "data", "postmaster.pid")
	before, err := os.ReadFile(pidFile)
	if err != nil {
		t.Fatal(err)
	}
	syscall.Kill(srv.PID(), syscall.SIGKILL)
	ended(t, srv)
	srv.Stop(t.Context())

	// A zombie: its parent (this process) has not waited for it yet.
	zombie := exec.Command("true")
	if err := zombie.Start(); err != nil {
		t.Fatal(err)
	}
	defer zombie.Wait()
	// A living one, of a user whom the server can signal.
	owner, err := serverUser(filepath.Join(dir, "data"))
	if err != nil {
		t.Fatal(err)
	}
	living := exec.Command("sleep", "600")
	living.SysProcAttr = attributes(owner, false)
	if err := living.Start(); err != nil {
		t.Fatal(err)
	}
	defer living.Wait()
	defer living.Process.Kill()

	for name, pid := range map[string]int{"zombie": zombie.Process.Pid, "living": living.Process.Pid} {
		_, rest, _ := strings.Cut(string(before), "\n")
		stale := fmt.Sprintf("%d\n%s", pid, rest)
		for _, file := range []string{pidFile, filepath.Join(dir, "run", ".s.PGSQL.5432.lock")} {
			if err := os.WriteFile(file, []byte(stale), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		srv, err := Start(t.Context(), Options{DataDir: dir})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if n := ask[int](t, connect(t, srv), `select count(*) from kept`); n != 0 {
			t.Error(n)
		}
		syscall.Kill(srv.PID(), syscall.SIGKILL)
		ended(t, srv)
		srv.Stop(t.Context())
	}
}

// TestKilledServer kills the server while rows are being written.
func TestKilledServer(t *testing.T) {
	t.Parallel()
	dir := root(t)
	var committed int
	for round := range 3 {
		srv := start(t, Options{DataDir: dir})
		conn := connect(t, srv)
		exec1(t, conn, `create table if not exists kept (n int primary key)`)
		if n := ask[int](t, conn, `select count(*) from kept`); n < committed || n > committed+1 {
			t.Fatalf("round %d: %d rows, %d were committed", round, n, committed)
		}
		committed = ask[int](t, conn, `select coalesce(max(n), 0) from kept`)
		target := committed + 50
		for {
			_, err := conn.Exec(t.Context(), `insert into kept values ($1)`, committed+1)
			if err != nil {
				break
			}
			committed++
			if committed == target {
				go syscall.Kill(srv.PID(), syscall.SIGKILL)
			}
		}
		ended(t, srv)
		srv.Stop(t.Context())
	}
}

// writeForever is the child of TestKilledParent.
func writeForever(dir string) error {
	ctx := context.Background()
	srv, err := Start(ctx, Options{DataDir: dir, BinDir: os.Getenv(childBinEnv)})
	if err != nil {
		return err
	}
	fmt.Println("pid", srv.PID())
	conn, err := pgx.Connect(ctx, srv.URL())
	if err != nil {
		return err
	}
	if _, err := conn.Exec(ctx, `create table if not exists kept (n int primary key)`); err != nil {
		return err
	}
	var n int
	if err := conn.QueryRow(ctx, `select coalesce(max(n), 0) from kept`).Scan(&n); err != nil {
		return err
	}
	for {
		n++
		if _, err := conn.Exec(ctx, `insert into kept values ($1)`, n); err != nil {
			return err
		}
		fmt.Println("row", n)
	}
}

// TestKilledParent kills the program that runs the server with kill -9, alone
// and together with the server: the server ends, and every row that was
// committed is there the next time, which may be at once.
func TestKilledParent(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	if runtime.GOOS != "linux" {
		t.Skip("only Linux stops the child of a process that is killed")
	}
	dir := root(t)
	var committed int
	for round := range 4 {
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), childEnv+"="+dir)
		child.Stderr = os.Stderr
		out, err := child.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := child.Start(); err != nil {
			t.Fatal(err)
		}
		var server, rows int
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			word, number, _ := strings.Cut(lines.Text(), " ")
			n, err := strconv.Atoi(number)
			if err != nil {
				t.Fatal(err)
			}
			if word == "pid" {
				server = n
				continue
			}
			if committed = n; rows == 40 {
				child.Process.Kill()
				if round%2 == 1 {
					syscall.Kill(server, syscall.SIGKILL)
				}
			}
			rows++
		}
		child.Wait()
		if rows < 40 {
			t.Fatalf("round %d: the child ended after %d rows", round, rows)
		}
		if round == 0 { // the kernel ends it; the other rounds do not wait for that
			awaitEnd(t, server)
		}
		srv := start(t, Options{DataDir: dir})
		if pids := serversIn(filepath.Join(dir, "data")); len(pids) == 0 {
			t.Error("the running server is not seen")
		} else {
			for _, pid := range pids {
				if pid == server {
					t.Error("the server of the killed program still runs")
				}
			}
		}
		if n := ask[int](t, connect(t, srv), `select count(*) from kept`); n < committed || n > committed+1 {
			t.Errorf("round %d: %d rows, %d were committed", round, n, committed)
		}
		srv.Stop(t.Context())
	}
}

// TestKilledDuringInitdb: what makes the data folder ends with the program too,
// so that it never meets the next start.
func TestKilledDuringInitdb(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("only Linux stops the child of a process that is killed")
	}
	dir := root(t)
	fifo := filepath.Join(dir, "begun")
	if err := syscall.Mkfifo(fifo, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(fifo, 0o666); err != nil { // past the umask: initdb may be another user's
		t.Fatal(err)
	}
	bin := fakeBin(t, filepath.Join(dir, "bin"), "18.4", "echo $$ > "+fifo+"; exec sleep 600")
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childEnv+"="+filepath.Join(dir, "root"), childBinEnv+"="+bin)
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(fifo) // waits for initdb
	if err != nil {
		t.Fatal(err)
	}
	pid, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	child.Process.Kill()
	child.Wait()
	awaitEnd(t, pid)
}

// awaitEnd waits until a process is gone, or only a zombie of somebody else's.
func awaitEnd(t *testing.T, pid int) {
	t.Helper()
	limit, tick := time.After(time.Minute), time.NewTicker(5*time.Millisecond)
	defer tick.Stop()
	for {
		if _, err := os.Readlink(fmt.Sprintf("/proc/%d/cwd", pid)); err != nil {
			return
		}
		select {
		case <-limit:
			t.Fatalf("process %d outlives the program that started it", pid)
		case <-tick.C:
		}
	}
}
