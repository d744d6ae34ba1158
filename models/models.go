package models

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"holdfast/words"
)

// What callers branch on with errors.Is.
var (
	// ErrUnknown: there is no network of that name.
	ErrUnknown error = words.Error("unknown_model")
	// ErrCorrupt: the manifest cannot be understood, or the ONNX file is not
	// the one the manifest describes.
	ErrCorrupt error = words.Error("corrupt_model")
)

// FolderEnv is the environment variable that names a folder with further
// networks; one of the same name as a built-in network takes its place.
const FolderEnv = "HOLDFAST_MODELS"

//go:embed *.onnx *.json
var builtIn embed.FS

// Model is a network ready to be handed to a runner.
type Model struct {
	Manifest Manifest
	// ONNX is the network itself. It is the caller's own copy.
	ONNX []byte
}

// Load returns the network of that name, from the folder named by FolderEnv
// when it is there, otherwise the built-in one. The ONNX file's SHA-256 is
// compared with the manifest's. Errors: ErrUnknown, ErrCorrupt, or one of
// reading the file.
func Load(name string) (*Model, error) {
	if !validName(name) {
		return nil, loading(name, ErrUnknown)
	}
	for _, folder := range folders() {
		data, err := fs.ReadFile(folder, name+".json")
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, loading(name, err)
		}
		model, err := load(folder, name, data)
		if err != nil {
			return nil, loading(name, err)
		}
		return model, nil
	}
	known, err := Names()
	if err != nil {
		return nil, err
	}
	return nil, loading(name, words.Instead(ErrUnknown, "unknown_model_of", words.Params{"known": known}))
}

// loading says which network an error is about.
func loading(name string, err error) error {
	return words.Instead(err, "loading_model", words.Params{"name": name, "error": err.Error()})
}

// Parts returns the names of the networks that a model's name stands for: a network's own, or, of a pair such as
// "heavy+thunder", those of both, the one that leads first. Nothing is said of whether they exist.
func Parts(name string) []string { return strings.SplitN(name, pairMark, 2) }

const pairMark = "+"

// SumOf returns the sum by which a model is known from those of its networks: a single one's own, of a pair the
// SHA-256 of the two in hexadecimal digits, one after the other.
func SumOf(sums ...string) string {
	if len(sums) == 1 {
		return sums[0]
	}
	sum := sha256.Sum256([]byte(strings.Join(sums, "")))
	return hex.EncodeToString(sum[:])
}

// SHA256Of returns the sum of a model, see [SumOf]; that of a network is the sum of its ONNX file as its manifest
// states it, without reading the file. Errors: ErrUnknown, ErrCorrupt, or one of reading the manifest.
func SHA256Of(name string) (string, error) {
	var sums []string
	for _, part := range Parts(name) {
		sum, err := sumOfNetwork(part)
		if err != nil {
			return "", err
		}
		sums = append(sums, sum)
	}
	return SumOf(sums...), nil
}

func sumOfNetwork(name string) (string, error) {
	if validName(name) {
		for _, folder := range folders() {
			data, err := fs.ReadFile(folder, name+".json")
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			var manifest *Manifest
			if err == nil {
				if manifest, err = parseManifest(data); err == nil {
					return manifest.SHA256, nil
				}
				err = fmt.Errorf("%w: %w", ErrCorrupt, err)
			}
			return "", loading(name, err)
		}
	}
	return "", loading(name, ErrUnknown)
}

func load(folder fs.FS, name string, data []byte) (*Model, error) {
	manifest, err := parseManifest(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrCorrupt, err)
	}
	if manifest.Name != name {
		return nil, words.Because(ErrCorrupt, "model_of", words.Params{"name": manifest.Name})
	}
	onnx, err := fs.ReadFile(folder, manifest.File)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, words.Because(ErrCorrupt, "model_missing", words.Params{"file": manifest.File})
	}
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(onnx)
	if got := hex.EncodeToString(sum[:]); got != manifest.SHA256 {
		return nil, words.Because(ErrCorrupt, "model_sum",
			words.Params{"file": manifest.File, "has": got, "wants": manifest.SHA256})
	}
	return &Model{Manifest: *manifest, ONNX: onnx}, nil
}

// Names returns the names of all networks there are, built in or in the folder
// named by FolderEnv, sorted.
func Names() ([]string, error) {
	var names []string
	for _, folder := range folders() {
		entries, err := fs.ReadDir(folder, ".")
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, words.Doing("doing_listing_models", err)
		}
		for _, entry := range entries {
			if name, ok := strings.CutSuffix(entry.Name(), ".json"); ok && validName(name) && !entry.IsDir() {
				names = append(names, name)
			}
		}
	}
	slices.Sort(names)
	return slices.Compact(names), nil
}

// folders returns where networks lie, the first to be looked in first.
func folders() []fs.FS {
	if folder := os.Getenv(FolderEnv); folder != "" {
		return []fs.FS{os.DirFS(folder), builtIn}
	}
	return []fs.FS{builtIn}
}
