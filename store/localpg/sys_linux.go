package localpg

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// maxSocketPath is the room in sun_path, less the final NUL (unix(7)).
const maxSocketPath = 107

const canSeeServers = true

// dieWithParent has the kernel stop the server, in order, when the thread that
// started it is gone, even by kill -9.
func dieWithParent(attr *syscall.SysProcAttr) { attr.Pdeathsig = syscall.SIGINT }

// serversIn lists the PostgreSQL processes that run in a data folder. All of
// them have it as their working folder. A zombie has none any more.
func serversIn(data string) []int {
	links, _ := filepath.Glob("/proc/[0-9]*/cwd") // fails on a bad pattern only
	var pids []int
	for _, link := range links {
		if cwd, err := os.Readlink(link); err != nil || cwd != data {
			continue
		}
		name, err := os.ReadFile(filepath.Join(filepath.Dir(link), "comm"))
		if err != nil || !strings.HasPrefix(string(name), "postgres") {
			continue // somebody's shell
		}
		if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(link))); err == nil {
			pids = append(pids, pid)
		}
	}
	return pids
}
