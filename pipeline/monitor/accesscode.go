package monitor

import (
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// codeRounds is the work factor of a code's hash: PBKDF2 with HMAC-SHA-256, 600,000 rounds (OWASP's password storage
// cheat sheet, from memory).
const codeRounds = 600_000

// How long a code must be. Digits alone are few: a shorter code of digits is good only for a page that nobody but this
// machine reaches.
const (
	leastCode   = 6
	leastDigits = 10
)

// shortMark at the end of a hash says that its code is one of digits and short.
const shortMark = "short"

// errShortCode is why a code is not good for a page that others reach.
var errShortCode = fmt.Errorf("a code of digits only is too short for a page that other machines reach: %d digits or more, or words; make another with: thoud code", leastDigits)

// HashCode makes the hash of an access code as the configuration keeps it. An error says what is wrong with the code.
func HashCode(code string) (string, error) {
	if len(code) < leastCode {
		return "", fmt.Errorf("an access code of %d characters is too short: %d or more", len(code), leastCode)
	}
	salt := make([]byte, 16)
	_, _ = rand.Read(salt) // never fails
	h, err := hashCode(code, salt, codeRounds)
	if err == nil && shortDigits(code) {
		h += ":" + shortMark
	}
	return h, err
}

// shortDigits reports whether a code is of digits only and short.
func shortDigits(code string) bool {
	return len(code) < leastDigits && strings.Trim(code, "0123456789 -.") == ""
}

func hashCode(code string, salt []byte, rounds int) (string, error) {
	key, err := pbkdf2.Key(sha256.New, code, salt, rounds, 32)
	if err != nil {
		return "", fmt.Errorf("access code: %w", err)
	}
	enc := base64.RawStdEncoding
	return fmt.Sprintf("pbkdf2-sha256:%d:%s:%s", rounds, enc.EncodeToString(salt), enc.EncodeToString(key)), nil
}

type codeHash struct {
	rounds    int
	salt, key []byte
	short     bool
}

func parseHash(s string) (codeHash, error) {
	parts := strings.Split(s, ":")
	bad := errors.New("monitor: the access code must be kept as its hash, as \"thoud code\" prints it")
	short := len(parts) == 5 && parts[4] == shortMark
	if len(parts) != 4 && !short || parts[0] != "pbkdf2-sha256" {
		return codeHash{}, bad
	}
	rounds, err := strconv.Atoi(parts[1])
	if err != nil || rounds < 1 {
		return codeHash{}, bad
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[2])
	key, err2 := base64.RawStdEncoding.DecodeString(parts[3])
	if err1 != nil || err2 != nil || len(key) != 32 {
		return codeHash{}, bad
	}
	return codeHash{rounds, salt, key, short}, nil
}

func (c codeHash) fits(code string) bool {
	key, err := pbkdf2.Key(sha256.New, code, c.salt, c.rounds, len(c.key))
	return err == nil && subtle.ConstantTimeCompare(key, c.key) == 1
}
