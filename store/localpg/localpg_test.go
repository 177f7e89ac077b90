//go:build unix

package localpg

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"
)

// childEnv makes the test binary a program that starts a server in the folder
// it names and writes rows until it is killed.
const (
	childEnv    = "LOCALPG_TEST_CHILD"
	childBinEnv = "LOCALPG_TEST_CHILD_BIN"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		if err := writeForever(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

// root makes an empty folder that any user may enter; t.TempDir's are closed.
func root(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "localpg-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return dir
}

// needBinaries fails the test where there is no PostgreSQL, saying how to get one.
func needBinaries(t *testing.T) []string {
	t.Helper()
	if testing.Short() {
		t.Skip("needs PostgreSQL")
	}
	found := Find("")
	if len(found) == 0 {
		t.Fatal(help)
	}
	return found
}

func start(t *testing.T, opt Options) *Server {
	t.Helper()
	needBinaries(t)
	opt.Logger = slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelDebug}))
	srv, err := Start(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { srv.Stop(context.Background()) })
	return srv
}

func connect(t *testing.T, srv *Server) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), srv.URL())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func ask[T any](t *testing.T, conn *pgx.Conn, sql string) T {
	t.Helper()
	var v T
	if err := conn.QueryRow(t.Context(), sql).Scan(&v); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return v
}

func exec1(t *testing.T, conn *pgx.Conn, sql string) {
	t.Helper()
	if _, err := conn.Exec(t.Context(), sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// ended waits until the server is gone.
func ended(t *testing.T, srv *Server) {
	t.Helper()
	select {
	case <-srv.Done():
	case <-time.After(30 * time.Second):
		t.Fatal("the server does not end")
	}
}

// TestStart runs with every PostgreSQL on this machine: new data, what it is
// like, and that it is all there the next time.
func TestStart(t *testing.T) {
	t.Parallel()
	for _, bin := range needBinaries(t) {
		t.Run(strings.ReplaceAll(bin, "/", "_"), func(t *testing.T) {
			t.Parallel()
			b, err := inspect(bin)
			if err != nil {
				t.Fatal(err)
			}
			dir := filepath.Join(root(t), "made", "when missing")
			srv := start(t, Options{DataDir: dir, BinDir: bin, Settings: map[string]string{"max_connections": "17"}})
			conn := connect(t, srv)

			want := map[string]string{
				"data_checksums": "on", "server_encoding": "UTF8", "listen_addresses": "", "TimeZone": "UTC",
				"password_encryption": "scram-sha-256", "max_connections": "17", "lc_messages": "C",
			}
			got := map[string]string{}
			for name := range want {
				got[name] = ask[string](t, conn, "show "+name)
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("settings (-want +got):\n%s", diff)
			}
			if v := ask[int](t, conn, `select current_setting('server_version_num')::int / 10000`); v != b.major {
				t.Errorf("version %d, want %d", v, b.major)
			}
			if b.major >= 17 {
				// C.UTF-8 knows that é is a letter; plain C does not.
				if v := ask[string](t, conn, `select upper('é')`); v != "É" {
					t.Errorf("upper('é') = %q", v)
				}
			}
			for name, mode := range map[string]fs.FileMode{"data": 0o700, "run": 0o700, "password": 0o600} {
				info, err := os.Stat(filepath.Join(dir, name))
				if err != nil {
					t.Fatal(err)
				}
				if info.Mode().Perm() != mode {
					t.Errorf("%s has mode %o, want %o", name, info.Mode().Perm(), mode)
				}
			}
			u, err := url.Parse(srv.URL())
			if err != nil {
				t.Fatal(err)
			}
			u.User = url.UserPassword("sextant", "wrong")
			if conn, err := pgx.Connect(t.Context(), u.String()); err == nil {
				conn.Close(t.Context())
				t.Error("a wrong password is let in")
			}

			exec1(t, conn, `create table kept (n int)`)
			exec1(t, conn, `insert into kept values (1), (2)`)
			if err := srv.Stop(t.Context()); err != nil {
				t.Fatal(err)
			}
			if err := srv.Stop(t.Context()); err != nil {
				t.Fatal("stopping twice:", err)
			}
			again := connect(t, start(t, Options{DataDir: dir, BinDir: bin}))
			if n := ask[int](t, again, `select count(*) from kept`); n != 2 {
				t.Errorf("%d rows after a restart, want 2", n)
			}
		})
	}
}

func TestSecondInstanceIsRefused(t *testing.T) {
	t.Parallel()
	dir := root(t)
	srv := start(t, Options{DataDir: dir})
	_, err := Start(t.Context(), Options{DataDir: dir})
	if !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), strconv.Itoa(os.Getpid())) {
		t.Errorf("got %v, want ErrInUse that names process %d", err, os.Getpid())
	}
	if n := ask[int](t, connect(t, srv), `select 1`); n != 1 {
		t.Error("the first one was disturbed")
	}
	srv.Stop(t.Context())
	start(t, Options{DataDir: dir})
}

// TestForeignData: whatever stands in the place of the data stays as it is.
func TestForeignData(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	tests := map[string]struct {
		files map[string]string
		want  error
	}{
		"OlderMajor":  {map[string]string{"PG_VERSION": "10\n", "base/1/2": "rows"}, ErrVersion},
		"NewerMajor":  {map[string]string{"PG_VERSION": "99\n", "base/1/2": "rows"}, ErrVersion},
		"BeforeTen":   {map[string]string{"PG_VERSION": "9.6\n"}, ErrNotData},
		"Garbage":     {map[string]string{"PG_VERSION": "\x00\xff"}, ErrNotData},
		"Empty":       {map[string]string{"PG_VERSION": ""}, ErrNotData},
		"NoVersion":   {map[string]string{"thesis.txt": "all of it"}, ErrNotData},
		"EmptyFolder": {map[string]string{}, ErrNotData},
	}
	for name, test := range tests {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := root(t)
			data := filepath.Join(dir, "data")
			for file, text := range test.files {
				path := filepath.Join(data, file)
				if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.MkdirAll(data, 0o755); err != nil {
				t.Fatal(err)
			}
			_, err := Start(t.Context(), Options{DataDir: dir})
			if !errors.Is(err, test.want) || !strings.Contains(err.Error(), "nothing was changed") {
				t.Errorf("got %v, want %v and that nothing was changed", err, test.want)
			}
			got := map[string]string{}
			err = filepath.WalkDir(data, func(path string, e fs.DirEntry, err error) error {
				if err != nil || e.IsDir() {
					return err
				}
				text, err := os.ReadFile(path)
				name, _ := filepath.Rel(data, path)
				got[name] = string(text)
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.files, got); diff != "" {
				t.Errorf("the folder was changed (-before +after):\n%s", diff)
			}
		})
	}
}

// fakeBin makes a folder with programs that are scripts.
func fakeBin(t *testing.T, dir, version, initdb string) string {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"postgres": "#!/bin/sh\necho 'postgres (PostgreSQL) " + version + "'\n",
		"initdb":   "#!/bin/sh\n" + initdb + "\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestUnfinishedInitdb(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	dir := root(t)
	// Like an initdb that was cut off: it had begun, and the version was there.
	bin := fakeBin(t, filepath.Join(dir, "bin"), "18.4", `mkdir "$2"; echo 18 > "$2/PG_VERSION"; echo no room left >&2; exit 1`)
	data := filepath.Join(dir, "root")
	_, err := Start(t.Context(), Options{DataDir: data, BinDir: bin})
	if err == nil || !strings.Contains(err.Error(), "no room left") {
		t.Fatalf("got %v, want what initdb said", err)
	}
	if _, err := os.Stat(filepath.Join(data, "data")); !errors.Is(err, fs.ErrNotExist) {
		t.Fatalf("half a data folder counts as one: %v", err)
	}
	if _, err := os.Stat(filepath.Join(data, "data.new", "PG_VERSION")); err != nil {
		t.Fatalf("the test made no half data folder: %v", err)
	}
	if n := ask[int](t, connect(t, start(t, Options{DataDir: data})), `select 1`); n != 1 {
		t.Error("no answer")
	}
}

func TestServerThatEndsAtOnce(t *testing.T) {
	t.Parallel()
	dir := root(t)
	_, err := Start(t.Context(), Options{DataDir: dir, BinDir: needBinaries(t)[0], Settings: map[string]string{"no_such_setting": "1"}})
	if err == nil || !strings.Contains(err.Error(), "no_such_setting") {
		t.Errorf("got %v, want what the server said", err)
	}
	start(t, Options{DataDir: dir}) // and the lock was given back
}

func TestLongPathListensOnLoopback(t *testing.T) {
	t.Parallel()
	for name, sub := range map[string]string{
		"TooLong": strings.Repeat("a-long-folder/", 8),
		"Comma":   "red, blue",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			srv := start(t, Options{DataDir: filepath.Join(root(t), sub)})
			u, err := url.Parse(srv.URL())
			if err != nil {
				t.Fatal(err)
			}
			if u.Hostname() != "127.0.0.1" || u.Port() == "" {
				t.Errorf("listens on %s", u.Host)
			}
			conn := connect(t, srv)
			if got := ask[string](t, conn, `show listen_addresses`); got != "127.0.0.1" {
				t.Errorf("listen_addresses = %s", got)
			}
		})
	}
	longest := "/" + strings.Repeat("r", maxSocketPath-len("//.s.PGSQL.5432"))
	for run, socket := range map[string]bool{longest: true, longest + "r": false} {
		at, err := endpoint(run)
		if err != nil || at.socket != socket {
			t.Errorf("a folder of %d bytes: %+v, %v; want a socket: %v", len(run), at, err, socket)
		}
	}
}

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

func TestStop(t *testing.T) {
	t.Parallel()
	srv := start(t, Options{DataDir: root(t)})
	conn := connect(t, srv)
	exec1(t, conn, `begin`) // something under way, which must not hold it up
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if err := srv.Stop(cancelled); err != nil {
		t.Fatal(err)
	}
	ended(t, srv)
	if err := syscall.Kill(srv.PID(), 0); !errors.Is(err, syscall.ESRCH) {
		t.Errorf("process %d is still there: %v", srv.PID(), err)
	}
}

func TestRootRunsAsAnother(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	if os.Geteuid() != 0 {
		t.Skip("needs root")
	}
	dir := root(t)
	srv := start(t, Options{DataDir: filepath.Join(dir, "a")})
	for _, path := range []string{"/proc/" + strconv.Itoa(srv.PID()), filepath.Join(dir, "a", "data")} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if uid := info.Sys().(*syscall.Stat_t).Uid; uid == 0 {
			t.Errorf("%s belongs to root", path)
		}
	}
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	_, err := Start(t.Context(), Options{DataDir: filepath.Join(dir, "b")})
	if !errors.Is(err, ErrClosedFolder) || !strings.Contains(err.Error(), "chmod o+x "+dir) {
		t.Errorf("got %v, want ErrClosedFolder and the command that helps", err)
	}
}

func TestRootsOwnData(t *testing.T) {
	t.Parallel()
	needBinaries(t)
	if os.Geteuid() != 0 {
		t.Skip("needs root")
	}
	dir := root(t)
	first := start(t, Options{DataDir: dir})
	major := ask[string](t, connect(t, first), `select current_setting('server_version_num')::int / 10000 || ''`)
	first.Stop(t.Context())
	data := filepath.Join(dir, "data")
	if err := os.Chown(data, 0, 0); err != nil {
		t.Fatal(err)
	}
	_, err := Start(t.Context(), Options{DataDir: dir})
	if err == nil || !strings.Contains(err.Error(), "belongs to root") {
		t.Errorf("got %v", err)
	}
	if got, err := os.ReadFile(filepath.Join(data, "PG_VERSION")); err != nil || strings.TrimSpace(string(got)) != major {
		t.Errorf("PG_VERSION is %q, %v", got, err)
	}
}
