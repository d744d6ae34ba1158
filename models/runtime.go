package models

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
)

// ErrNoRuntime: the ONNX Runtime library, which runs the networks, was not found.
var ErrNoRuntime = errors.New("ONNX Runtime was not found; run scripts/setup, or let " + RuntimeEnv + " name the library")

// RuntimeEnv is the environment variable that names the ONNX Runtime library.
const RuntimeEnv = "HOLDFAST_ONNXRUNTIME"

// RuntimeLibrary returns the path of the ONNX Runtime shared library. It looks,
// in this order, at the file named by RuntimeEnv, in .runtime/onnxruntime
// beside or above the executable, in the same folder at or above the working
// directory, and in the system's usual library folders. Errors: ErrNoRuntime.
func RuntimeLibrary() (string, error) {
	if path := os.Getenv(RuntimeEnv); path != "" {
		if !isFile(path) {
			// A wrong setting is not passed over: another library than the one
			// asked for would give results nobody can explain.
			return "", fmt.Errorf("%w (it names %s, which is no file)", ErrNoRuntime, path)
		}
		return path, nil
	}
	var starts []string
	if executable, err := os.Executable(); err == nil {
		if resolved, err := filepath.EvalSymlinks(executable); err == nil {
			executable = resolved
		}
		starts = append(starts, filepath.Dir(executable))
	}
	if directory, err := os.Getwd(); err == nil {
		starts = append(starts, directory)
	}
	patterns, systemFolders := runtimeNames(runtime.GOOS)
	for _, start := range starts {
		for _, folder := range ancestors(start) {
			if path := firstFile(filepath.Join(folder, ".runtime", "onnxruntime"), patterns); path != "" {
				return path, nil
			}
		}
	}
	for _, folder := range systemFolders {
		if path := firstFile(folder, patterns); path != "" {
			return path, nil
		}
	}
	return "", ErrNoRuntime
}

// runtimeNames returns the file name patterns of the library on an operating
// system, the best first, and the folders the system keeps libraries in.
func runtimeNames(goos string) (patterns, folders []string) {
	switch goos {
	case "darwin":
		return []string{"libonnxruntime.dylib", "libonnxruntime.*.dylib"},
			[]string{"/opt/homebrew/lib", "/usr/local/lib"}
	case "windows":
		folders := []string{}
		if root := os.Getenv("ProgramFiles"); root != "" {
			folders = append(folders, filepath.Join(root, "onnxruntime", "lib"))
		}
		// Windows itself ships an old onnxruntime.dll in its system folder,
		// too old for these networks' runner: that folder is left out.
		return []string{"onnxruntime.dll"}, folders
	default:
		return []string{"libonnxruntime.so", "libonnxruntime.so.*"},
			[]string{"/usr/local/lib", "/usr/lib/x86_64-linux-gnu", "/usr/lib/aarch64-linux-gnu", "/usr/lib64", "/usr/lib"}
	}
}

// ancestors returns the folder and all folders above it, nearest first.
func ancestors(folder string) []string {
	var all []string
	for {
		all = append(all, folder)
		parent := filepath.Dir(folder)
		if parent == folder {
			return all
		}
		folder = parent
	}
}

// firstFile returns the first file of a folder that matches one of the
// patterns, taken in order, or "".
func firstFile(folder string, patterns []string) string {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return ""
	}
	for _, pattern := range patterns {
		for _, entry := range entries {
			if ok, err := filepath.Match(pattern, entry.Name()); err != nil || !ok {
				continue
			}
			if path := filepath.Join(folder, entry.Name()); isFile(path) {
				return path
			}
		}
	}
	return ""
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}
