package confine

import (
	"debug/elf"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	landlock "github.com/landlock-lsm/go-landlock/landlock/syscall"
	"golang.org/x/sys/unix"
)

// Start starts a program that reaches no more than is named, the files it is handed open
// (cmd.ExtraFiles) and what it is made of. It does not follow the death of the thread
// that started it: cmd.SysProcAttr.Pdeathsig must not be set. Errors are those of
// cmd.Start, and of a kernel that has the limits but does not set them.
func Start(cmd *exec.Cmd, r Reach) error {
	if cmd.Err != nil {
		return cmd.Err
	}
	r.Run = append([]string{cmd.Path}, r.Run...)
	var err error
	onThread(func() {
		if _, err = limit(r, cmd.ExtraFiles, false); err == nil {
			err = cmd.Start()
		}
	})
	return err
}

// Self limits this process, from now on and for good, to what is named. What it has open
// it keeps. Programs that it starts are limited alike.
func Self(r Reach) error {
	r.Read = append([]string{"/proc/self"}, r.Read...) // its threads are found there
	_, err := limit(r, nil, true)
	return err
}

// Reached returns how far this system confines programs, found out by doing it once.
var Reached = sync.OnceValue(func() (l Level) {
	onThread(func() {
		var err error
		if l, err = limit(Reach{}, nil, false); err != nil {
			l = Level{}
		}
	})
	return l
})

// onThread runs a function on a thread that nothing else will run on: the limits that it
// sets on itself are inherited by what it starts and end with it.
func onThread(f func()) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // and never unlocked, so that the thread ends with the goroutine
		f()
	}()
	<-done
}

// limit sets the limits on this thread, or on all threads of the process, as far as the
// kernel knows them.
func limit(r Reach, open []*os.File, allThreads bool) (Level, error) {
	noNewPrivs := func() error { return unix.Prctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) }
	if allThreads {
		noNewPrivs = func() error { return landlock.AllThreadsPrctl(unix.PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) }
	}
	// Both limits ask for it: no program may be started that has more rights than this.
	if err := noNewPrivs(); err != nil {
		return Level{}, fmt.Errorf("giving up new privileges: %w", err)
	}
	var l Level
	var err error
	if l.Files, err = limitFiles(r, open, allThreads); err != nil {
		return Level{}, fmt.Errorf("limiting the files in reach: %w", err)
	}
	if l.Calls, err = limitCalls(allThreads); err != nil {
		return Level{}, fmt.Errorf("limiting the system calls: %w", err)
	}
	return l, nil
}

// What Landlock calls the rights that are given here.
const (
	readFile  = landlock.AccessFSReadFile
	readDir   = readFile | landlock.AccessFSReadDir
	runFile   = readFile | landlock.AccessFSExecute
	writeFile = readFile | landlock.AccessFSWriteFile | landlock.AccessFSTruncate
	// No links: whoever takes over what was made could be led elsewhere by one.
	writeDir = readDir | writeFile | landlock.AccessFSMakeReg | landlock.AccessFSMakeDir |
		landlock.AccessFSRemoveFile | landlock.AccessFSRemoveDir | landlock.AccessFSRefer
	ofFiles = landlock.AccessFSExecute | landlock.AccessFSWriteFile | landlock.AccessFSReadFile |
		landlock.AccessFSTruncate | landlock.AccessFSIoctlDev
)

// handled returns all rights that a version of Landlock takes away unless they are given
// (landlock(7), "Versions").
func handled(version int) (a landlock.RulesetAttr) {
	a.HandledAccessFS = landlock.AccessFSMakeSym<<1 - 1
	for _, later := range []struct {
		since  int
		rights uint64
	}{{2, landlock.AccessFSRefer}, {3, landlock.AccessFSTruncate}, {5, landlock.AccessFSIoctlDev}} {
		if version >= later.since {
			a.HandledAccessFS |= later.rights
		}
	}
	if version >= 4 {
		a.HandledAccessNet = landlock.AccessNetBindTCP | landlock.AccessNetConnectTCP
	}
	if version >= 6 {
		a.Scoped = landlock.ScopeAbstractUnixSocket | landlock.ScopeSignal
	}
	return a
}

// limitFiles takes away all files but those named, and returns the version of Landlock
// that does it; 0: this kernel has none.
func limitFiles(r Reach, open []*os.File, allThreads bool) (version int, err error) {
	version, err = landlock.LandlockGetABIVersion()
	if err != nil || version < 1 {
		return 0, nil
	}
	attr := handled(version)
	if allThreads {
		// Each thread gets limits of its own: this process could no longer end a program
		// that another of its threads has started.
		attr.Scoped &^= landlock.ScopeSignal
	}
	rules, err := landlock.LandlockCreateRuleset(&attr, 0)
	if err != nil {
		return 0, err
	}
	defer unix.Close(rules)
	allow := func(fd int, file, dir uint64) error {
		var is unix.Stat_t
		if err := unix.Fstat(fd, &is); err != nil {
			return err
		}
		rights := file & ofFiles
		if is.Mode&unix.S_IFMT == unix.S_IFDIR {
			rights = dir
		}
		return landlock.LandlockAddPathBeneathRule(rules,
			&landlock.PathBeneathAttr{AllowedAccess: rights & attr.HandledAccessFS, ParentFd: fd}, 0)
	}
	allowAll := func(paths []string, file, dir uint64) error {
		for _, path := range paths {
			if path == "" {
				continue
			}
			fd, err := unix.Open(path, unix.O_PATH|unix.O_CLOEXEC, 0)
			if err != nil {
				continue // what does not exist cannot be reached either
			}
			err = allow(fd, file, dir)
			_ = unix.Close(fd)
			if err != nil {
				return &os.PathError{Op: "allowing", Path: path, Err: err}
			}
		}
		return nil
	}
	programs, libraries := partsOf(r.Run)
	err = errors.Join(
		allowAll(r.Read, readFile, readDir),
		allowAll(r.Write, writeFile, writeDir),
		allowAll(programs, runFile, runFile|readDir),
		allowAll(libraries, readFile, readDir),
		allowAll(systemTells, readFile, readDir),
		allowAll([]string{os.DevNull}, writeFile, 0))
	for _, f := range open {
		if info, failed := f.Stat(); failed == nil && info.Mode().IsRegular() {
			// It may be opened anew by its place under /proc/self/fd.
			err = errors.Join(err, allow(int(f.Fd()), readFile, readDir))
		}
	}
	if err != nil {
		return 0, err
	}
	if allThreads {
		err = landlock.AllThreadsLandlockRestrictSelf(rules, 0)
	} else {
		err = landlock.LandlockRestrictSelf(rules, 0)
	}
	if err != nil {
		return 0, err
	}
	return version, nil
}

// systemTells is what programs ask the system about: processors and memory, time zone,
// chance.
var systemTells = []string{
	"/proc/cpuinfo", "/proc/meminfo", "/proc/stat", "/proc/filesystems", "/proc/sys/kernel", "/proc/sys/vm",
	"/proc/sys/crypto",
	"/sys/devices/system", "/etc/localtime", "/usr/share/zoneinfo", "/dev/urandom", "/dev/random", "/dev/zero",
}

// systemLibraries are the folders of libraries, and what tells the loader of them.
var systemLibraries = []string{
	"/lib", "/lib32", "/lib64", "/usr/lib", "/usr/lib32", "/usr/lib64", "/usr/local/lib", "/usr/local/lib64", "/nix/store",
	"/gnu/store",
	"/etc/ld.so.cache", "/etc/ld.so.preload", "/etc/ld.so.conf", "/etc/ld.so.conf.d",
}

// systemPrograms are the folders of programs.
var systemPrograms = []string{"/bin", "/usr/bin", "/usr/local/bin", "/lib", "/lib64", "/usr/lib", "/usr/libexec",
	"/nix/store", "/gnu/store"}

// partsOf returns what has to be started and what has to be read for programs to run.
func partsOf(run []string) (programs, libraries []string) {
	libraries = append(libraries, systemLibraries...)
	libraries = append(libraries, filepath.SplitList(os.Getenv("LD_LIBRARY_PATH"))...)
	for _, path := range run {
		programs = append(programs, path)
		if real, err := filepath.EvalSymlinks(path); err == nil {
			// Programs outside the system's folders often bring their libraries along.
			libraries = append(libraries, filepath.Join(filepath.Dir(filepath.Dir(real)), "lib"))
		}
		loader, isELF := loaderOf(path)
		switch {
		case !isELF: // a script, and whatever it starts
			programs = append(programs, systemPrograms...)
		case loader != "":
			programs = append(programs, loader)
		}
	}
	return programs, libraries
}

// loaderOf returns the program that loads another one, which has to be started with it;
// "" for one that is linked statically.
func loaderOf(path string) (loader string, isELF bool) {
	f, err := elf.Open(path)
	if err != nil {
		return "", false
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type != elf.PT_INTERP {
			continue
		}
		text, err := io.ReadAll(io.LimitReader(p.Open(), unix.PathMax))
		if err != nil {
			return "", true
		}
		return strings.TrimRight(string(text), "\x00"), true
	}
	return "", true
}
