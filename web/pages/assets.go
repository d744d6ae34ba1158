package pages

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"path"
	"sync"

	"holdfast/words"
)

//go:embed assets
var assetFiles embed.FS

// assetHash names this version of the assets. It stands in their address, so that a
// browser may keep them for ever and still never mixes two versions.
var assetHash = sync.OnceValue(func() string {
	sum := sha256.New()
	_ = fs.WalkDir(assetFiles, "assets", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := assetFiles.ReadFile(name)
		fmt.Fprintf(sum, "%s %d ", name, len(text))
		sum.Write(text)
		return err
	})
	return hex.EncodeToString(sum.Sum(nil))[:12]
})

// AssetVersion returns the part of an asset's address that changes with the assets and with the language spoken.
func AssetVersion() string { return assetHash() + "-" + words.Version() }

// assetKinds are the types of the assets; a file of another kind is not sent.
var assetKinds = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8",
	".svg": "image/svg+xml", ".txt": "text/plain; charset=utf-8",
}

// packed are the assets as gzip, by the version of the assets and the name.
var packed sync.Map

// Packed returns an asset, text, as gzip: a third of it, which a phone notices.
func Packed(name string, text []byte) []byte {
	key := AssetVersion() + "/" + name
	if kept, found := packed.Load(key); found {
		return kept.([]byte)
	}
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write(text) // a buffer takes everything
	_ = z.Close()
	packed.Store(key, b.Bytes())
	return b.Bytes()
}

// Asset returns a file that pages load, by its name below the version in its address, and its media type; false when
// there is none.
func Asset(name string) (text []byte, kind string, found bool) {
	read := func() ([]byte, error) { return assetFiles.ReadFile("assets/" + name) }
	if name == catalogueName {
		read = catalogue
	}
	text, err := read()
	kind = assetKinds[path.Ext(name)]
	return text, kind, err == nil && kind != ""
}
