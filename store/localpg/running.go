package localpg

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// ErrNotRunning says that no server runs in the data folder.
var ErrNotRunning = errors.New("no server runs in the data folder")

// Running is the address of the server that another process runs in a data
// folder, for a user who may read the folder's password. ErrNotRunning.
func Running(dataDir string) (string, error) {
	root, err := filepath.Abs(dataDir)
	if err != nil {
		return "", err
	}
	if root, err = filepath.EvalSymlinks(root); err != nil {
		return "", fmt.Errorf("%w: %w", ErrNotRunning, err)
	}
	d := folder{root: root}
	// Lines of the file: process id, data folder, start, port, folder of the
	// socket, address (PostgreSQL source, miscadmin.h).
	raw, err := os.ReadFile(filepath.Join(d.data(), "postmaster.pid"))
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrNotRunning, err)
	}
	lines := strings.Split(string(raw), "\n")
	if len(lines) < 6 {
		return "", ErrNotRunning
	}
	port, err := strconv.Atoi(strings.TrimSpace(lines[3]))
	if err != nil {
		return "", fmt.Errorf("%w: its port is %q", ErrNotRunning, lines[3])
	}
	password, err := os.ReadFile(d.password())
	if err != nil {
		return "", fmt.Errorf("read the server's password: %w", err)
	}
	if socket := strings.TrimSpace(lines[4]); socket != "" {
		return address{socket: true, host: socket, port: port}.url(string(password), userName), nil
	}
	return address{host: "127.0.0.1", port: port}.url(string(password), userName), nil
}
