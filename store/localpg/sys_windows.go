package localpg

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"

	"golang.org/x/sys/windows"
)

const (
	exeSuffix     = ".exe"
	haveSockets   = false
	maxSocketPath = 0
	canSeeServers = false
)

// user has no meaning here: the server drops an administrator's rights itself.
type user struct{}

func serverUser(string) (user, error)      { return user{}, nil }
func (user) own(string) error              { return nil }
func (user) mayEnter(string, string) error { return nil }
func serversIn(string) []int               { return nil }
func interrupt(int)                        {}
func (p *process) askFast()                { p.control("fast") }
func (p *process) askNow()                 { p.control("immediate") }
func (p *process) kill()                   { p.cmd.Process.Kill() }

// control asks the server to end; there are no signals here.
func (p *process) control(mode string) {
	exec.Command(filepath.Join(filepath.Dir(p.cmd.Path), "pg_ctl.exe"), "stop", "-W", "-D", p.cmd.Dir, "-m", mode).Run()
}

func attributes(user, bool) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}

// dirLock is held by one process at a time.
type dirLock struct{ handle syscall.Handle }

// lockDir locks a data root: a file that is opened without sharing cannot be
// opened again.
func lockDir(root string) (*dirLock, error) {
	path := filepath.Join(root, "lock")
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, err
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if err != nil {
		if _, there := os.Stat(path); there == nil {
			return nil, fmt.Errorf("%w by another process: stop that one first, or choose another data folder", ErrInUse)
		}
		return nil, err
	}
	return &dirLock{handle: h}, nil
}

func (l *dirLock) release() { syscall.CloseHandle(l.handle) }

// FreeSpace is how many bytes can still be written where dir is.
func FreeSpace(dir string) (int64, error) {
	path, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(path, &free, nil, nil); err != nil {
		return 0, fmt.Errorf("ask for the free space of %s: %w", dir, err)
	}
	return int64(free), nil
}
