package monitor

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// How long a session lasts and how many there may be.
const (
	sessionLasts = 30 * 24 * time.Hour
	sessionsMost = 500
)

// session is one browser that gave a code.
type session struct {
	Role  role      `json:"role"`
	Until time.Time `json:"until"`
}

// sessions are kept by the hash of their cookie: who reads the file cannot log in with what is in it.
type sessions map[[sha256.Size]byte]session

// add keeps a session and lets the ended ones go, and where there are too many the one that ends first.
func (l sessions) add(cookie string, s session, now time.Time) {
	for k, old := range l {
		if !now.Before(old.Until) {
			delete(l, k)
		}
	}
	for len(l) >= sessionsMost {
		var first [sha256.Size]byte
		var until time.Time
		for k, old := range l {
			if until.IsZero() || old.Until.Before(until) {
				first, until = k, old.Until
			}
		}
		delete(l, first)
	}
	l[sha256.Sum256([]byte(cookie))] = s
}

// sessionFile is the form of the file. Codes is a hash of the codes' hashes: another code ends every session.
type sessionFile struct {
	Codes    string             `json:"codes"`
	Sessions map[string]session `json:"sessions"` // by hash of the cookie, hex
}

// readSessions reads the sessions that are good with these codes; none where there is no file.
func readSessions(path, codes string) (sessions, error) {
	out := sessions{}
	b, err := os.ReadFile(path)
	if path == "" || errors.Is(err, fs.ErrNotExist) {
		return out, nil
	}
	var f sessionFile
	if err == nil {
		err = json.Unmarshal(b, &f)
	}
	if err != nil {
		return out, fmt.Errorf("monitor: sessions in %s: %w; the codes are asked for again", path, err)
	}
	if f.Codes != codes {
		return out, nil
	}
	for k, s := range f.Sessions {
		var key [sha256.Size]byte
		if n, err := hex.Decode(key[:], []byte(k)); err == nil && n == len(key) && len(k) == 2*len(key) {
			out[key] = s
		}
	}
	return out, nil
}

// write keeps the sessions; the file has its name only once it is whole.
func (l sessions) write(path, codes string) error {
	f := sessionFile{Codes: codes, Sessions: map[string]session{}}
	for k, s := range l {
		f.Sessions[hex.EncodeToString(k[:])] = s
	}
	b, err := json.Marshal(f)
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".sessions-*") // readable by its owner alone
	if err != nil {
		return err
	}
	_, err = tmp.Write(b)
	if err = errors.Join(err, tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(tmp.Name()))
	}
	return nil
}
