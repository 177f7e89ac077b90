//go:build unix

package localpg

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	osuser "os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

const (
	exeSuffix   = ""
	haveSockets = true
)

// user is whom the server runs as; the zero value is this process's own.
type user struct {
	name     string
	uid, gid uint32
	other    bool // than this process
}

// serverUser is who shall run the server. It refuses to run as root, so then
// it is the owner of the data, or else one of the system's users without rights.
func serverUser(data string) (user, error) {
	if os.Geteuid() != 0 {
		return user{}, nil
	}
	if info, err := os.Stat(data); err == nil {
		st := info.Sys().(*syscall.Stat_t)
		if st.Uid == 0 {
			return user{}, fmt.Errorf("the data folder %s belongs to root, and PostgreSQL does not run as root", data)
		}
		u := user{name: strconv.Itoa(int(st.Uid)), uid: st.Uid, gid: st.Gid, other: true}
		if known, err := osuser.LookupId(u.name); err == nil {
			u.name = known.Username
		}
		return u, nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return user{}, err
	}
	for _, name := range []string{"postgres", "nobody"} {
		known, err := osuser.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(known.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(known.Gid, 10, 32)
		if err := errors.Join(err1, err2); err != nil {
			return user{}, err
		}
		return user{name: name, uid: uint32(uid), gid: uint32(gid), other: true}, nil
	}
	return user{}, errors.New("PostgreSQL does not run as root, and there is neither a user postgres nor nobody: start Sextant as another user")
}

// own gives a file of ours to the server's user.
func (u user) own(path string) error {
	if !u.other {
		return nil
	}
	return os.Lchown(path, int(u.uid), int(u.gid))
}

// mayEnter checks that the user gets to the folders: through every folder above
// the data root, which will be its own, and into that of the binaries.
func (u user) mayEnter(root, bin string) error {
	if !u.other {
		return nil
	}
	bin, err := filepath.EvalSymlinks(bin)
	if err != nil {
		return err
	}
	for _, start := range []string{filepath.Dir(root), bin} {
		for dir := start; ; dir = filepath.Dir(dir) {
			info, err := os.Stat(dir)
			if err != nil {
				return err
			}
			st := info.Sys().(*syscall.Stat_t)
			need := fs.FileMode(0o001)
			switch {
			case st.Uid == u.uid:
				need = 0o100
			case st.Gid == u.gid:
				need = 0o010
			}
			if info.Mode().Perm()&need == 0 {
				return fmt.Errorf("%w: started by root, PostgreSQL runs as the user %s, who cannot enter %s on the way to %s: "+
					"choose a folder elsewhere (such as /var/lib/sextant), start Sextant as another user, or run: chmod o+x %s",
					ErrClosedFolder, u.name, dir, start, dir)
			}
			if dir == filepath.Dir(dir) {
				break
			}
		}
	}
	return nil
}

// attributes are those of a child that runs as the user. A server has its own
// process group, so that Ctrl-C reaches only us, and we stop it in order.
func attributes(u user, server bool) *syscall.SysProcAttr {
	attr := &syscall.SysProcAttr{Setpgid: server}
	if u.other {
		attr.Credential = &syscall.Credential{Uid: u.uid, Gid: u.gid}
	}
	dieWithParent(attr)
	return attr
}

func (p *process) askFast() { p.cmd.Process.Signal(syscall.SIGINT) }
func (p *process) askNow()  { p.cmd.Process.Signal(syscall.SIGQUIT) }
func (p *process) kill()    { syscall.Kill(-p.pid, syscall.SIGKILL) }

func interrupt(pid int) { syscall.Kill(pid, syscall.SIGINT) }

// dirLock is held by one process at a time.
type dirLock struct{ file *os.File }

// lockDir locks a data root. The lock goes when the process does, however it ends.
func lockDir(root string) (*dirLock, error) {
	f, err := os.OpenFile(filepath.Join(root, "lock"), os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		holder := pidIn(f.Name())
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fmt.Errorf("%w by process %d: stop that one first, or choose another data folder", ErrInUse, holder)
		}
		return nil, err
	}
	// Only to tell people; the lock itself is the kernel's.
	if err := f.Truncate(0); err == nil {
		fmt.Fprintf(f, "%d\n", os.Getpid())
	}
	return &dirLock{file: f}, nil
}

func (l *dirLock) release() { l.file.Close() }

// FreeSpace is how many bytes can still be written where dir is.
func FreeSpace(dir string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, fmt.Errorf("ask for the free space of %s: %w", dir, err)
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
