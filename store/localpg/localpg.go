package localpg

import (
	"context"
	"errors"
	"log/slog"
)

// Options say where a private server lives. DataDir is needed.
type Options struct {
	DataDir string // holds everything; made if missing; never deleted
	BinDir  string // with the binaries postgres and initdb; empty: looked for, see Find
	Logger  *slog.Logger
}

// Server is a running private PostgreSQL.
type Server struct{}

// ErrInUse: another process runs the server in this data folder.
var ErrInUse = errors.New("the data folder is in use by another Sextant")

// ErrNoBinaries: there is no PostgreSQL to be found.
var ErrNoBinaries = errors.New("no PostgreSQL binaries found")

// Start starts the private server of a data folder, making the folder the
// first time, and returns when it answers. It ends with Stop, with this
// process, or with a crash of its own (see Done).
func Start(ctx context.Context, opt Options) (*Server, error) { return nil, ErrNoBinaries }

// URL is the address of the server's database, postgres://…, with its password.
func (s *Server) URL() string { return "" }

// Done is closed when the server has ended, by Stop or by itself.
func (s *Server) Done() <-chan struct{} { return nil }

// Stop ends the server and waits for it. Committed data is safe in any case.
func (s *Server) Stop(ctx context.Context) error { return nil }
