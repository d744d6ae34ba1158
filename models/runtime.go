package models

import (
	"os"
	"path/filepath"
	"runtime"

	"holdfast/words"
)

// ErrNoRuntime: the ONNX Runtime library, which runs the networks, was not found.
var ErrNoRuntime error = words.Error("no_runtime")

// RuntimeEnv is the environment variable that names the ONNX Runtime library.
const RuntimeEnv = "HOLDFAST_ONNXRUNTIME"

// RuntimeLibrary turns the library's telemetry off for this process and returns the
// path of the ONNX Runtime shared library. It looks, in this order, at the file
// named by RuntimeEnv, in the folder .runtime/onnxruntime beside the executable; for an
// executable in a folder bin, in lib/holdfast beside that folder, where packages put it,
// and in the project's .runtime/onnxruntime; and in the system's own library folders. Whoever can write there could
// replace the program as well. The working directory is never looked at: it may be full of other people's files.
// Errors: ErrTelemetry, ErrNoRuntime.
func RuntimeLibrary() (string, error) {
	if err := TurnTelemetryOff(); err != nil {
		return "", err
	}
	fewArenas() // before the library starts its threads
	if path := os.Getenv(RuntimeEnv); path != "" {
		switch {
		case !filepath.IsAbs(path):
			return "", words.Instead(ErrNoRuntime, "no_runtime_whole", words.Params{"variable": RuntimeEnv, "path": path})
		case !isFile(path):
			// A wrong setting is not passed over: another library than the one
			// asked for would give results nobody can explain.
			return "", words.Instead(ErrNoRuntime, "no_runtime_file", words.Params{"variable": RuntimeEnv, "path": path})
		}
		return path, nil
	}
	_, folders := runtimeNames(runtime.GOOS)
	if executable, err := os.Executable(); err == nil {
		if resolved, err := filepath.EvalSymlinks(executable); err == nil {
			executable = resolved
		}
		folders = append(foldersOfProgram(executable), folders...)
	}
	for _, folder := range folders {
		if path := RuntimeIn(folder); path != "" {
			return path, nil
		}
	}
	return "", ErrNoRuntime
}

// RuntimeIn returns the path of the ONNX Runtime library that lies in the folder, ""
// when there is none.
func RuntimeIn(folder string) string {
	patterns, _ := runtimeNames(runtime.GOOS)
	return firstFile(folder, patterns)
}

// foldersOfProgram lists where the library may lie that came with an executable.
func foldersOfProgram(executable string) []string {
	beside := filepath.Dir(executable)
	folders := []string{filepath.Join(beside, ".runtime", "onnxruntime")}
	if filepath.Base(beside) == "bin" {
		root := filepath.Dir(beside)
		folders = append(folders, filepath.Join(root, "lib", "holdfast"), filepath.Join(root, ".runtime", "onnxruntime"))
	}
	return folders
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
