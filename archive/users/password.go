package users

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"sync"

	"golang.org/x/crypto/argon2"

	"holdfast/archive/rows"
	"holdfast/words"
)

// The cost of trying a password, the second choice of RFC 9106 but for its memory, which is that of the OWASP sheet on
// storing passwords (19 MiB and two passes; from memory): some 30 ms.
const (
	passes    = 2
	memoryKiB = 19 * 1024
	lanes     = 1
	saltBytes = 16
	hashBytes = 32
)

// trying lets two passwords be tried at one time: each takes memory.
var trying = make(chan struct{}, 2)

func derived(password string, salt []byte, t, m uint32, p uint8, length int) []byte {
	trying <- struct{}{}
	defer func() { <-trying }()
	return argon2.IDKey([]byte(password), salt, t, m, p, uint32(length))
}

// hashed makes what is kept of a password, in the form that the reference program of argon2 prints.
func hashed(password string) (string, error) {
	if len(password) < LeastPassword || len(password) > mostPassword {
		return "", words.Because(rows.ErrInvalid, "why_password", words.Params{"least": LeastPassword, "most": mostPassword})
	}
	salt := make([]byte, saltBytes)
	_, _ = rand.Read(salt) // never fails, by its documentation
	text := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, memoryKiB, passes, lanes, text(salt),
		text(derived(password, salt, passes, memoryKiB, lanes, hashBytes))), nil
}

// matches says whether a password is the one of which this was kept. What cannot be read matches none.
func matches(kept, password string) bool {
	var version int
	var m, t uint32
	var p uint8
	var rest string
	if n, err := fmt.Sscanf(kept, "$argon2id$v=%d$m=%d,t=%d,p=%d$%s", &version, &m, &t, &p, &rest); n != 5 || err != nil ||
		version != argon2.Version || t == 0 || p == 0 || m > 1<<17 || t > 100 || len(password) > mostPassword {
		return false
	}
	const saltText = (saltBytes*8 + 5) / 6
	if len(rest) < saltText+2 || rest[saltText] != '$' {
		return false
	}
	salt, err := base64.RawStdEncoding.DecodeString(rest[:saltText])
	if err != nil {
		return false
	}
	hash, err := base64.RawStdEncoding.DecodeString(rest[saltText+1:])
	if err != nil || len(hash) < hashBytes {
		return false
	}
	return subtle.ConstantTimeCompare(hash, derived(password, salt, t, m, p, len(hash))) == 1
}

// nobody is a hash that a name without a user is tried against.
var nobody = sync.OnceValue(func() string {
	kept, err := hashed("nobody has this password")
	if err != nil {
		panic(err) // it is of a length that is allowed
	}
	return kept
})
