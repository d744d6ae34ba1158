package confine

import (
	"errors"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// refused are the system calls that nothing here needs and that lead out: to the
// network, into other processes, past the limits of files, into the kernel's corners.
var refused = []uint32{
	unix.SYS_SOCKET, unix.SYS_IO_URING_SETUP, // io_uring opens sockets of its own
	unix.SYS_PTRACE, unix.SYS_PROCESS_VM_READV, unix.SYS_PROCESS_VM_WRITEV, unix.SYS_PROCESS_MADVISE, unix.SYS_PIDFD_GETFD,
	unix.SYS_KCMP,
	unix.SYS_UNSHARE, unix.SYS_SETNS, unix.SYS_CHROOT, unix.SYS_PIVOT_ROOT, unix.SYS_MOUNT, unix.SYS_UMOUNT2,
	unix.SYS_OPEN_TREE,
	unix.SYS_MOVE_MOUNT, unix.SYS_FSOPEN, unix.SYS_FSPICK, unix.SYS_MOUNT_SETATTR, unix.SYS_OPEN_BY_HANDLE_AT,
	unix.SYS_BPF, unix.SYS_PERF_EVENT_OPEN, unix.SYS_USERFAULTFD, unix.SYS_KEYCTL, unix.SYS_ADD_KEY, unix.SYS_REQUEST_KEY,
	unix.SYS_INIT_MODULE, unix.SYS_FINIT_MODULE, unix.SYS_DELETE_MODULE, unix.SYS_KEXEC_LOAD, unix.SYS_REBOOT,
	unix.SYS_SWAPON, unix.SYS_ACCT,
}

// architectures are the kernel's numbers for those on which refused is known to hold.
var architectures = map[string]uint32{"amd64": unix.AUDIT_ARCH_X86_64, "arm64": unix.AUDIT_ARCH_AARCH64}

const (
	newNamespaces = unix.CLONE_NEWUSER | unix.CLONE_NEWNET | unix.CLONE_NEWNS | unix.CLONE_NEWPID |
		unix.CLONE_NEWIPC | unix.CLONE_NEWUTS | unix.CLONE_NEWCGROUP
	// x32Bit marks the calls of the 32-bit ABI that amd64 knows beside its own.
	x32Bit = 0x40000000
)

// filter returns the program that the kernel runs before each system call. Calls of
// another architecture have other numbers and would pass a list of these: they are
// refused altogether.
func filter(architecture uint32) []unix.SockFilter {
	// Offsets in struct seccomp_data (seccomp(2)); both architectures are little-endian.
	const number, arch, argument0 = 0, 4, 16
	load := func(at uint32) unix.SockFilter {
		return unix.SockFilter{Code: unix.BPF_LD | unix.BPF_W | unix.BPF_ABS, K: at}
	}
	answer := func(with uint32) unix.SockFilter { return unix.SockFilter{Code: unix.BPF_RET | unix.BPF_K, K: with} }
	// unless skips the next instruction when the test fails.
	unless := func(test uint16, k uint32) unix.SockFilter {
		return unix.SockFilter{Code: unix.BPF_JMP | test | unix.BPF_K, Jf: 1, K: k}
	}
	no := answer(unix.SECCOMP_RET_ERRNO | uint32(unix.EPERM))
	unknown := answer(unix.SECCOMP_RET_ERRNO | uint32(unix.ENOSYS))
	yes := answer(unix.SECCOMP_RET_ALLOW)
	program := []unix.SockFilter{
		load(arch),
		{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jt: 1, K: architecture},
		no,
		load(number),
		unless(unix.BPF_JGE, x32Bit), unknown,
		// Its flags lie in memory, where no filter sees them; the C libraries fall back on clone.
		unless(unix.BPF_JEQ, unix.SYS_CLONE3), unknown,
	}
	for _, call := range refused {
		program = append(program, unless(unix.BPF_JEQ, call), no)
	}
	return append(program,
		unix.SockFilter{Code: unix.BPF_JMP | unix.BPF_JEQ | unix.BPF_K, Jf: 3, K: unix.SYS_CLONE}, // other calls: yes
		load(argument0),
		unless(unix.BPF_JSET, newNamespaces), no,
		yes)
}

// limitCalls takes system calls away, and says whether the kernel does so.
func limitCalls(allThreads bool) (bool, error) {
	architecture, known := architectures[runtime.GOARCH]
	if !known {
		return false, nil
	}
	program := filter(architecture)
	prog := unix.SockFprog{Len: uint16(len(program)), Filter: &program[0]}
	flags := 0
	if allThreads {
		flags = unix.SECCOMP_FILTER_FLAG_TSYNC
	}
	bad, _, errno := unix.Syscall(unix.SYS_SECCOMP, unix.SECCOMP_SET_MODE_FILTER, uintptr(flags),
		uintptr(unsafe.Pointer(&prog)))
	switch {
	case errno == unix.ENOSYS || errno == unix.EINVAL:
		return false, nil
	case errno != 0:
		return false, errno
	case bad != 0:
		return false, errors.New("a thread did not take the limits")
	}
	return true, nil
}
