package localpg

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

// Options say where a private server lives. DataDir is needed.
type Options struct {
	DataDir string // holds everything; made if missing; never deleted
	BinDir  string // with the binaries postgres and initdb; empty: looked for, see Find
	Logger  *slog.Logger
	// Settings of the server, over those in its postgresql.conf.
	Settings map[string]string
}

// Server is a running private PostgreSQL.
type Server struct {
	url    string
	logger *slog.Logger
	proc   *process
	lock   *dirLock
	stop   sync.Once
}

// The errors that a caller can act on. Their texts say what to do.
var (
	// ErrInUse: another process runs the server in this data folder.
	ErrInUse = errors.New("the data folder is in use")
	// ErrNoBinaries: there is no PostgreSQL to be found.
	ErrNoBinaries = errors.New("no PostgreSQL binaries found")
	// ErrVersion: the data folder was made by another major version.
	ErrVersion = errors.New("the data was made by another version of PostgreSQL")
	// ErrNotData: something that is no data folder is in its place.
	ErrNotData = errors.New("not a PostgreSQL data folder")
	// ErrClosedFolder: the user that the server must run as cannot get in.
	ErrClosedFolder = errors.New("a folder is closed to the server's user")
)

const (
	userName     = "sextant" // the server's superuser, and the database
	socketPort   = 5432      // only a part of the socket's name
	startLimit   = 5 * time.Minute
	pollEvery    = 15 * time.Millisecond
	fastShutdown = 20 * time.Second // then the server is told to drop everything
	hardShutdown = 5 * time.Second  // then it is killed
)

// Start starts the private server of a data folder, making the folder the
// first time, and returns when it answers. It ends with Stop, with this
// process, or with a crash of its own (see Done). Data that was committed is
// safe in each case.
func Start(ctx context.Context, opt Options) (_ *Server, err error) {
	if opt.DataDir == "" {
		return nil, errors.New("start PostgreSQL: no data folder was named")
	}
	if opt.Logger == nil {
		opt.Logger = slog.New(slog.DiscardHandler)
	}
	ctx, cancel := context.WithTimeout(ctx, startLimit)
	defer cancel()

	root, err := filepath.Abs(opt.DataDir)
	if err != nil {
		return nil, fmt.Errorf("start PostgreSQL: %w", err)
	}
	if err := os.MkdirAll(root, 0o755); err != nil {
		return nil, fmt.Errorf("start PostgreSQL: make the data folder: %w", err)
	}
	// The server's working folder tells who uses the data; links would hide it.
	if root, err = filepath.EvalSymlinks(root); err != nil {
		return nil, fmt.Errorf("start PostgreSQL: %w", err)
	}
	lock, err := lockDir(root)
	if err != nil {
		return nil, fmt.Errorf("start PostgreSQL in %s: %w", root, err)
	}
	srv := &Server{logger: opt.Logger, lock: lock}
	defer func() {
		if err == nil {
			return
		}
		if srv.proc != nil {
			srv.proc.end(fastShutdown, hardShutdown)
		}
		lock.release()
		err = fmt.Errorf("start PostgreSQL in %s: %w", root, err)
	}()

	d := folder{root: root}
	if d.major, err = d.version(); err != nil {
		return nil, err
	}
	bin, err := choose(opt.BinDir, d.major)
	if err != nil {
		return nil, err
	}
	if d.owner, err = serverUser(d.data()); err != nil {
		return nil, err
	}
	if err := d.owner.mayEnter(root, bin.dir); err != nil {
		return nil, err
	}
	if err := d.prepare(ctx, bin, opt.Logger); err != nil {
		return nil, err
	}
	password, err := os.ReadFile(d.password())
	if err != nil {
		return nil, fmt.Errorf("read the server's password (it was made with the data and belongs to it): %w", err)
	}
	if err := clearUp(ctx, d, opt.Logger); err != nil {
		return nil, err
	}

	// On loopback another program may take the port that was free a moment ago.
	const attempts = 5
	for attempt := 1; ; attempt++ {
		at, err := endpoint(d.run())
		if err != nil {
			return nil, err
		}
		srv.proc, err = launch(bin.postgres(), serverArgs(d, at, opt.Settings), d.data(), d.owner, opt.Logger)
		if err != nil {
			return nil, err
		}
		srv.url = at.url(string(password), userName)
		err = srv.awaitReady(ctx, at.url(string(password), "postgres"))
		if err == nil {
			return srv, nil
		}
		if at.socket || attempt == attempts || !srv.proc.said("could not bind") {
			return nil, err
		}
		<-srv.proc.done
	}
}

// URL is the address of the server's database, postgres://…, with its password.
func (s *Server) URL() string { return s.url }

// Done is closed when the server has ended, by Stop or by itself.
func (s *Server) Done() <-chan struct{} { return s.proc.done }

// PID is the process id of the server.
func (s *Server) PID() int { return s.proc.pid }

// Stop ends the server and waits for it: at once if ctx has ended, else after
// at most 20 seconds for what is under way. It may be called again.
func (s *Server) Stop(ctx context.Context) error {
	s.stop.Do(func() {
		patience := fastShutdown
		if deadline, ok := ctx.Deadline(); ok {
			patience = min(patience, max(0, time.Until(deadline)))
		}
		if ctx.Err() != nil {
			patience = 0
		}
		s.proc.end(patience, hardShutdown)
		s.lock.release()
	})
	<-s.proc.done
	return nil
}

// address is where the server listens.
type address struct {
	socket bool
	host   string // folder of the socket, or 127.0.0.1
	port   int
}

// endpoint picks a socket in the folder run, or a free port on loopback where
// the socket's path would be too long or hold characters that separate lists.
func endpoint(run string) (address, error) {
	path := filepath.Join(run, ".s.PGSQL."+strconv.Itoa(socketPort))
	if haveSockets && len(path) <= maxSocketPath && !strings.ContainsAny(path, `,"'\`) {
		return address{socket: true, host: run, port: socketPort}, nil
	}
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return address{}, fmt.Errorf("find a free port: %w", err)
	}
	defer l.Close()
	return address{host: "127.0.0.1", port: l.Addr().(*net.TCPAddr).Port}, nil
}

func (a address) url(password, database string) string {
	u := url.URL{Scheme: "postgres", User: url.UserPassword(userName, password), Path: "/" + database}
	q := url.Values{"sslmode": {"disable"}}
	if a.socket {
		q.Set("host", a.host)
		q.Set("port", strconv.Itoa(a.port))
	} else {
		u.Host = net.JoinHostPort(a.host, strconv.Itoa(a.port))
	}
	u.RawQuery = strings.ReplaceAll(q.Encode(), "+", "%20") // a plus is a plus to PostgreSQL's parsers
	return u.String()
}

func serverArgs(d folder, at address, extra map[string]string) []string {
	settings := map[string]string{
		"port":                    strconv.Itoa(at.port),
		"listen_addresses":        "",
		"unix_socket_directories": "",
		"logging_collector":       "off",
		"log_destination":         "stderr",
	}
	if at.socket {
		settings["unix_socket_directories"] = at.host
		settings["unix_socket_permissions"] = "0700"
	} else {
		settings["listen_addresses"] = at.host
	}
	maps.Copy(settings, extra)
	args := []string{"-D", d.data()}
	for _, name := range slices.Sorted(maps.Keys(settings)) {
		args = append(args, "-c", name+"="+settings[name])
	}
	return args
}

// awaitReady connects until the server answers, and makes the database.
func (s *Server) awaitReady(ctx context.Context, adminURL string) error {
	tick := time.NewTicker(pollEvery)
	defer tick.Stop()
	for {
		conn, err := pgx.Connect(ctx, adminURL)
		if err == nil {
			defer conn.Close(context.WithoutCancel(ctx))
			return makeDatabase(ctx, conn)
		}
		var refused *pgconn.PgError
		// 57P03: it is starting up. Any other answer will not change by waiting.
		if errors.As(err, &refused) && refused.Code != "57P03" {
			return fmt.Errorf("the server refuses the connection: %w", err)
		}
		select {
		case <-s.proc.done:
			return fmt.Errorf("the server ended at once (%s); it said:\n%s", s.proc.how(), s.proc.tail())
		case <-ctx.Done():
			return fmt.Errorf("the server does not answer: %w (%w); it said:\n%s", ctx.Err(), err, s.proc.tail())
		case <-tick.C:
		}
	}
}

func makeDatabase(ctx context.Context, conn *pgx.Conn) error {
	var there bool
	err := conn.QueryRow(ctx, `select exists (select from pg_database where datname = $1)`, userName).Scan(&there)
	if err != nil {
		return fmt.Errorf("look for the database: %w", err)
	}
	if !there {
		if _, err := conn.Exec(ctx, `create database sextant`); err != nil {
			return fmt.Errorf("make the database: %w", err)
		}
	}
	return nil
}
