package confine

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"golang.org/x/sys/unix"
)

// childVariable makes this test binary a process that confines itself; it names a folder.
const childVariable = "HOLDFAST_TEST_CONFINE"

func TestMain(m *testing.M) {
	if dir := os.Getenv(childVariable); dir != "" {
		os.Exit(confinedChild(dir))
	}
	os.Exit(m.Run())
}

// needKernel fails where the kernel lacks the limits: a test that passed there would
// have tested nothing.
func needKernel(t *testing.T) {
	t.Helper()
	if l := Reached(); l.Files == 0 || !l.Calls {
		t.Fatalf("this kernel cannot confine a program: %+v", l)
	}
}

// files makes a folder with a file that is given and one that is not.
func files(t *testing.T) (dir, given, secret string) {
	t.Helper()
	dir = t.TempDir()
	given, secret = filepath.Join(dir, "given"), filepath.Join(dir, "secret")
	for _, path := range []string{given, secret} {
		if err := os.WriteFile(path, []byte("content of "+filepath.Base(path)), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir, given, secret
}

func TestStartedProgramReachesNoMore(t *testing.T) {
	needKernel(t)
	dir, given, secret := files(t)
	out := filepath.Join(dir, "out")
	if err := os.Mkdir(out, 0o700); err != nil {
		t.Fatal(err)
	}
	open, err := os.Open(given)
	if err != nil {
		t.Fatal(err)
	}
	defer open.Close()
	port, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer port.Close()
	_, number, err := net.SplitHostPort(port.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	reads := Reach{Read: []string{given, filepath.Join(dir, "none"), ""}}
	tests := []struct {
		name    string
		reach   Reach
		command []string
		want    string // what it prints when it may
		no      string // what it says when it may not
	}{
		{"a file that is given", reads, []string{"cat", given}, "content of given", ""},
		{"another file", reads, []string{"cat", secret}, "", "Permission denied"},
		{"a folder's files", Reach{Read: []string{dir}}, []string{"cat", secret}, "content of secret", ""},
		{"a folder", reads, []string{"ls", dir}, "", "Permission denied"},
		{"a file that is handed open", Reach{}, []string{"cat", "/proc/self/fd/3"}, "content of given", ""},
		{"the same by its name", Reach{}, []string{"cat", given}, "content of given", ""},
		{"a password file", Reach{}, []string{"cat", "/etc/passwd"}, "", "Permission denied"},
		{"what another process was told", Reach{}, []string{"cat", fmt.Sprintf("/proc/%d/environ", os.Getpid())}, "",
			"Permission denied"},
		{"nothing", Reach{}, []string{"bash", "-c", "echo gone > /dev/null && echo well"}, "well", ""},
		{"writing to a file that is read", reads, []string{"bash", "-c", "echo x >> " + given}, "", "Permission denied"},
		{"making a file", reads, []string{"bash", "-c", "echo x > " + dir + "/new"}, "", "Permission denied"},
		{"making one where it may", Reach{Write: []string{out}}, []string{"bash", "-c", "echo fine > " + out +
			"/new && echo $(<" + out + "/new)"}, "fine", ""},
		{"leading others astray", Reach{Write: []string{out}}, []string{"ln", "-s", secret, out + "/link"}, "",
			"Permission denied"},
		{"taking another's file in", Reach{Write: []string{out}}, []string{"ln", secret, out + "/link"}, "", "cross-device"},
		{"starting another program", Reach{}, []string{"bash", "-c", "/usr/bin/env"}, "", "Permission denied"},
		{"starting one that is named", Reach{Run: []string{"/usr/bin/env"}}, []string{"bash", "-c", "/usr/bin/env NAMED=1"},
			"NAMED=1", ""},
		{"the network", Reach{}, []string{"bash", "-c", "echo x > /dev/tcp/127.0.0.1/" + number}, "",
			"Operation not permitted"},
		{"the network by datagrams", Reach{}, []string{"bash", "-c", "echo x > /dev/udp/127.0.0.1/" + number}, "",
			"Operation not permitted"},
		{"ending another process", Reach{}, []string{"bash", "-c", fmt.Sprintf("kill -0 %d", os.Getpid())}, "",
			"Operation not permitted"},
		{"a namespace of its own", Reach{}, []string{"unshare", "-U", "-n", "/bin/true"}, "", "Operation not permitted"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			cmd := exec.CommandContext(t.Context(), tt.command[0], tt.command[1:]...)
			cmd.Env = append(os.Environ(), "LC_ALL=C")
			cmd.ExtraFiles = []*os.File{open}
			if !strings.HasPrefix(tt.name, "a file that is handed") && !strings.HasPrefix(tt.name, "the same") {
				cmd.ExtraFiles = nil
			}
			var stdout, stderr bytes.Buffer
			cmd.Stdout, cmd.Stderr = &stdout, &stderr
			if err := Start(cmd, tt.reach); err != nil {
				t.Fatal(err)
			}
			err := cmd.Wait()
			switch {
			case tt.no == "" && (err != nil || !strings.Contains(stdout.String(), tt.want)):
				t.Errorf("%v: it says %q and %q, want %q", err, stdout.String(), stderr.String(), tt.want)
			case tt.no != "" && (err == nil || !strings.Contains(stderr.String(), tt.no)):
				t.Errorf("%v: it says %q and %q, want %q", err, stdout.String(), stderr.String(), tt.no)
			}
		})
	}
}

// The limits are those of the program that was started, whatever thread this process
// goes on with.
func TestStartLimitsNobodyElse(t *testing.T) {
	needKernel(t)
	_, _, secret := files(t)
	for range 20 {
		if err := Start(exec.CommandContext(t.Context(), "/bin/none"), Reach{}); !errors.Is(err, os.ErrNotExist) {
			t.Fatalf("starting nothing: %v", err)
		}
	}
	var all sync.WaitGroup
	for range 50 {
		all.Go(func() {
			runtime.LockOSThread() // each on a thread of its own
			defer runtime.UnlockOSThread()
			if _, err := os.ReadFile(secret); err != nil {
				t.Error(err)
			}
			if fd, err := unix.Socket(unix.AF_INET, unix.SOCK_STREAM, 0); err != nil {
				t.Error(err)
			} else {
				_ = unix.Close(fd)
			}
		})
	}
	all.Wait()
}

func TestStartSaysWhatIsMissing(t *testing.T) {
	if err := Start(exec.CommandContext(t.Context(), "no-such-program-anywhere"), Reach{}); !errors.Is(err,
		exec.ErrNotFound) {
		t.Errorf("a program that is not there: %v", err)
	}
}

// confinedChild confines itself and prints what it still can do, on every thread.
func confinedChild(dir string) int {
	given, secret, out := filepath.Join(dir, "given"), filepath.Join(dir, "secret"), filepath.Join(dir, "out")
	waiting, held := make(chan struct{}), make(chan struct{})
	var first sync.WaitGroup
	var all sync.WaitGroup
	for range 8 { // threads that are there before
		first.Add(1)
		all.Go(func() {
			runtime.LockOSThread()
			first.Done()
			<-waiting
			if _, err := os.ReadFile(secret); err == nil {
				fmt.Println("a thread reads the secret")
			}
			if _, err := unix.Socket(unix.AF_INET, unix.SOCK_STREAM, 0); err == nil {
				fmt.Println("a thread opens a socket")
			}
			<-held
		})
	}
	first.Wait()
	if err := Self(Reach{Read: []string{given}, Write: []string{out}, Run: []string{"/bin/cat"}}); err != nil {
		fmt.Println(err)
		return 1
	}
	close(waiting)
	check := func(what string, err, want error) {
		if !errors.Is(err, want) {
			fmt.Printf("%s: %v, want %v\n", what, err, want)
		}
	}
	call := func(number, a uintptr) error {
		_, _, errno := unix.Syscall(number, a, 0, 0)
		if errno == 0 {
			return nil
		}
		return errno
	}
	_, err := os.ReadFile(given)
	check("reading what is given", err, nil)
	_, err = os.ReadFile(secret)
	check("reading the secret", err, unix.EACCES)
	check("writing where it may", os.WriteFile(filepath.Join(out, "new"), []byte("x"), 0o600), nil)
	check("renaming there", os.Rename(filepath.Join(out, "new"), filepath.Join(out, "old")), nil)
	check("writing elsewhere", os.WriteFile(filepath.Join(dir, "new"), nil, 0o600), unix.EACCES)
	_, err = net.Dial("tcp", "127.0.0.1:9")
	check("the network", err, unix.EPERM)
	check("a ring of calls", call(unix.SYS_IO_URING_SETUP, 1), unix.EPERM)
	check("looking into a process", call(unix.SYS_PTRACE, unix.PTRACE_ATTACH), unix.EPERM)
	check("a namespace", call(unix.SYS_UNSHARE, unix.CLONE_NEWUSER), unix.EPERM)
	check("a process in a namespace", call(unix.SYS_CLONE, unix.CLONE_NEWUSER|uintptr(unix.SIGCHLD)), unix.EPERM)
	check("the newer way to it", call(unix.SYS_CLONE3, 0), unix.ENOSYS)
	if runtime.GOARCH == "amd64" {
		check("a socket by the other ABI", call(x32Bit|unix.SYS_SOCKET, unix.AF_INET), unix.ENOSYS)
	}
	for path, want := range map[string]error{given: nil, secret: unix.EACCES} {
		cmd := exec.Command("/bin/cat", path)
		var said bytes.Buffer
		cmd.Stderr = &said
		err := cmd.Run()
		if (err == nil) != (want == nil) {
			fmt.Printf("a program reads %s: %v %s\n", path, err, said.String())
		}
		cmd = exec.Command("/bin/cat", path)
		if err = Start(cmd, Reach{Read: []string{given, secret}}); err == nil {
			err = cmd.Wait()
		}
		if (err == nil) != (want == nil) {
			fmt.Printf("a confined program reads %s: %v\n", path, err)
		}
	}
	// It can still end what it has started, from another thread than it started it on.
	sleeper := exec.Command("/bin/cat")
	in, err := sleeper.StdinPipe()
	check("a pipe", err, nil)
	check("starting a confined program", Start(sleeper, Reach{}), nil)
	check("ending it", sleeper.Process.Kill(), nil)
	_ = sleeper.Wait()
	_ = in.Close()
	close(held)
	all.Wait()
	fmt.Println("done")
	return 0
}

// A process that confines itself is confined on all its threads, and so is what it starts.
func TestSelf(t *testing.T) {
	needKernel(t)
	dir, _, _ := files(t)
	if err := os.Mkdir(filepath.Join(dir, "out"), 0o700); err != nil {
		t.Fatal(err)
	}
	child := exec.CommandContext(t.Context(), os.Args[0])
	child.Env = append(os.Environ(), childVariable+"="+dir)
	out, err := child.CombinedOutput()
	if err != nil || string(out) != "done\n" {
		t.Errorf("%v:\n%s", err, out)
	}
}
