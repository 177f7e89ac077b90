package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"
)

// commands are the subcommands; each is a struct with a Run method in a file
// of its own. Run may take a context.Context, which ends on the first SIGINT
// or SIGTERM, and a *streams.
type commands struct {
	Serve     serveCommand     `cmd:"" help:"Run the server."`
	Demo      demoCommand      `cmd:"" help:"Run the server on an invented event."`
	Estimate  estimateCommand  `cmd:"" help:"Print what each robot contributes, from files."`
	Backtest  backtestCommand  `cmd:"" help:"Tell how good forecasts of a played event would have been, from files."`
	Bracket   bracketCommand   `cmd:"" help:"Print each alliance's chances in the playoff, from files."`
	Check     checkCommand     `cmd:"" help:"Tell which records to doubt, why and what that costs, from files."`
	Select    selectCommand    `cmd:"" help:"Print what each call in alliance selection is worth to us, from files."`
	Migrate   migrateCommand   `cmd:"" help:"Bring the database to the newest form and end."`
	Account   accountCommand   `cmd:"" help:"Set a forgotten password."`
	Export    exportCommand    `cmd:"" help:"Write an event, or a table of it, into a file."`
	Import    importCommand    `cmd:"" help:"Restore an event from a file, or take a table into one."`
	Backup    backupCommand    `cmd:"" help:"Back the whole database up, secrets included."`
	Restore   restoreCommand   `cmd:"" help:"Restore a back-up into an empty data folder."`
	OpenAPI   openapiCommand   `cmd:"" name:"openapi" help:"Print the API's OpenAPI 3.1 document."`
	Simulate  simulateCommand  `cmd:"" help:"Invent a competition and write it as files."`
	Version   versionCommand   `cmd:"" help:"Print the version."`
	Standings standingsCommand `cmd:"" help:"Tell how the ranking may end, from files."`
}

// streams are the program's standard streams. Commands print here only.
type streams struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer
}

// The exit codes of the program. A panic is exitFailed, never exitUsage.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2 // the arguments or an input are wrong
)

// inputError marks an error as the fault of an argument or an input file.
type inputError struct{ err error }

func (e inputError) Error() string { return e.err.Error() }
func (e inputError) Unwrap() error { return e.err }

// badInput marks err as the fault of an argument or an input file: the
// program ends with exit code 2 and the first line of err on standard error.
// The text names the file, the line and the column. nil stays nil.
func badInput(err error) error {
	if err == nil {
		return nil
	}
	return inputError{err}
}

// leave is panicked by kong's exit hook (--help) and caught by run.
type leave int

// run is the whole program: it parses args, runs the command and returns the
// exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) (code int) {
	defer func() {
		switch p := recover().(type) {
		case nil:
		case leave:
			code = int(p)
		default:
			fmt.Fprintf(stderr, "sextant: a defect of the program: %v\n%s", p, debug.Stack())
			code = exitFailed
		}
	}()
	// Only a command that takes the context catches signals: the others, which
	// only compute, would swallow them and could not be ended.
	var stop context.CancelFunc = func() {}
	defer func() { stop() }()
	interruptible := func() (ctx context.Context, err error) {
		ctx, stop = signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
		context.AfterFunc(ctx, stop) // the second signal ends the program at once
		return ctx, nil
	}

	var cmds commands
	parser, err := kong.New(&cmds,
		kong.Name("sextant"),
		kong.Description("Scouting and match strategy for robotics competitions."),
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { panic(leave(code)) }),
		kong.BindSingletonProvider(interruptible),
		kong.Bind(&streams{In: stdin, Out: stdout, Err: stderr}),
	)
	if err != nil {
		fmt.Fprintf(stderr, "sextant: %v\n", err)
		return exitFailed
	}
	command, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(stderr, "sextant: %s (see sextant --help)\n", firstLine(err))
		return exitUsage
	}
	return exitCode(command.Run(), stderr)
}

// exitCode prints err, if any, as one line and says how the program ends.
func exitCode(err error, stderr io.Writer) int {
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(stderr, "sextant: %s\n", firstLine(err))
	var input inputError
	if errors.As(err, &input) {
		return exitUsage
	}
	return exitFailed
}

func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}
