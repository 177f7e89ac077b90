package main

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"
)

func TestRunExitCodes(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name       string
		args       []string
		want       int
		out, error string
	}{
		{"Version", []string{"version"}, exitDone, "sextant ", ""},
		{"Help", []string{"--help"}, exitDone, "Usage: sextant", ""},
		{"NoCommand", nil, exitUsage, "", "expected"},
		{"UnknownCommand", []string{"fly"}, exitUsage, "", "fly"},
		{"UnknownFlag", []string{"version", "--wings"}, exitUsage, "", "--wings"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			var out, errs bytes.Buffer
			if got := run(tt.args, nil, &out, &errs); got != tt.want {
				t.Errorf("run(%q) = %d, want %d; stderr %q", tt.args, got, tt.want, errs.String())
			}
			if !strings.Contains(out.String(), tt.out) || !strings.Contains(errs.String(), tt.error) {
				t.Errorf("run(%q) printed %q and %q", tt.args, out.String(), errs.String())
			}
			if tt.want == exitUsage && strings.Count(errs.String(), "\n") != 1 {
				t.Errorf("run(%q): want one line on stderr, got %q", tt.args, errs.String())
			}
		})
	}
}

func TestRunPanicIsOne(t *testing.T) {
	t.Parallel()
	var errs bytes.Buffer
	if got := run([]string{"version"}, nil, panicWriter{}, &errs); got != exitFailed {
		t.Errorf("a panic ends with %d, want %d", got, exitFailed)
	}
	if !strings.Contains(errs.String(), "defect") {
		t.Errorf("stderr %q does not tell of the panic", errs.String())
	}
}

// TestSignalEndsAComputation: a command that only computes ends at SIGTERM,
// here while it waits for the rest of its game file.
func TestSignalEndsAComputation(t *testing.T) {
	t.Parallel()
	cmd := program(t, nil, "estimate", "--game", "/dev/stdin", "--matches", "none.csv")
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer cmd.Process.Kill()
	if _, err := in.Write(make([]byte, 1<<20)); err != nil { // more than a pipe holds: it is reading
		t.Fatal(err)
	}
	if err := cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case err := <-ended:
		if err == nil || cmd.ProcessState.Exited() {
			t.Errorf("it ended with %v, want the signal", err)
		}
	case <-time.After(20 * time.Second):
		t.Error("it goes on after SIGTERM")
	}
}

type panicWriter struct{}

func (panicWriter) Write([]byte) (int, error) { panic("broken pipe dream") }

func TestExitCode(t *testing.T) {
	t.Parallel()
	line := errors.New("matches.csv:12: column score: not a number\nmatches.csv:13: column score: not a number")
	tests := []struct {
		name string
		err  error
		want int
	}{
		{"Nil", badInput(nil), exitDone},
		{"Failure", line, exitFailed},
		{"Input", badInput(line), exitUsage},
		{"WrappedInput", fmt.Errorf("estimate: %w", badInput(line)), exitUsage},
	}
	for _, tt := range tests {
		var errs bytes.Buffer
		if got := exitCode(tt.err, &errs); got != tt.want {
			t.Errorf("%s: exit code %d, want %d", tt.name, got, tt.want)
		}
		if n := strings.Count(errs.String(), "\n"); tt.err != nil && n != 1 {
			t.Errorf("%s: %d lines on stderr, want 1", tt.name, n)
		}
	}
}
