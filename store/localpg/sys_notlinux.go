//go:build unix && !linux

package localpg

import "syscall"

// maxSocketPath is the room in sun_path of the BSDs and macOS, less the final NUL.
const maxSocketPath = 103

// Who uses the data is left to the server's own check.
const canSeeServers = false

func dieWithParent(*syscall.SysProcAttr) {}

func serversIn(string) []int { return nil }
