package service

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/mod/sumdb/note"

	"thoud/capture/bench"
	"thoud/store"
)

// NotesFolder holds the notes that a service signed, one a file, named by the entry they were made at; NoteKey is the key
// that signs them. The key is in no backup: a bench that was put back makes a new one, and the old notes stay checkable by
// the public key that the ledger names.
const (
	NotesFolder = "notes"
	NoteKey     = "note.key"
)

// signingKey reads a bench's key, or makes it where there is none; it gives the public key too.
func signingKey(dir, benchName string) (secret, public string, err error) {
	path := filepath.Join(dir, NoteKey)
	b, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return "", "", err
	}
	if lines := strings.Fields(string(b)); err == nil && len(lines) == 2 {
		if _, err := note.NewSigner(lines[0]); err == nil {
			return lines[0], lines[1], nil
		}
	}
	// None, or what a power cut left of one: a new one is made. Notes of the old one stay checkable, by the public key that
	// the ledger names.
	if secret, public, err = note.GenerateKey(rand.Reader, "thoud-"+benchName); err != nil {
		return "", "", err
	}
	return secret, public, writeSafely(path, []byte(secret+"\n"+public+"\n"))
}

// writeSafely writes a file under another name, forces it to the disk and gives it its name: a power cut leaves the old
// one or the new one.
func writeSafely(path string, content []byte) error {
	part := path + ".part"
	f, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(path))
}

// notes signs where the ledger ends: at each sign-off, once a day of work, at each backup and at the first sheet of a
// state, and at the end.
type notes struct {
	ledger *store.Store
	bench  string
	dir    string
	secret string
	public string
	log    zerolog.Logger
	now    func() time.Time

	busy sync.Mutex
	day  string
}

// after makes a note, beside its caller, where an entry was a sign-off, or the first of a day.
func (k *notes) after(s bench.State, o bench.Outcome) {
	today := k.now().Format(time.DateOnly)
	if !signedAt(s, o.N) && today == k.day {
		return
	}
	k.day = today
	go k.make(context.Background())
}

// signedAt reports whether an entry signed a step.
func signedAt(s bench.State, n uint64) bool {
	b, ok := s.Build(s.Place.Build)
	if !ok {
		return false
	}
	for _, st := range b.Steps {
		if st.Signed != nil && st.Signed.N == n {
			return true
		}
	}
	return false
}

// make makes a note of where the ledger ends and gives its text; "" where there is nothing to note, or none could be made.
// Where there is a note of that entry already it is that one: a sheet and a backup of the same day say the same.
func (k *notes) make(ctx context.Context) string {
	k.busy.Lock()
	defer k.busy.Unlock()
	text, err := k.write(ctx)
	if err != nil {
		k.log.Warn().Err(err).Msg("no note was made of where the ledger ends; the next sign-off makes one")
	}
	return text
}

func (k *notes) write(ctx context.Context) (string, error) {
	noted, err := k.ledger.Note(ctx, k.bench)
	if err != nil || noted.N == 0 {
		return "", err
	}
	path := filepath.Join(k.dir, NotesFolder, strconv.FormatUint(noted.N, 10)+".txt")
	if had, err := os.ReadFile(path); err == nil && k.same(string(had), noted) {
		return string(had), nil
	}
	signer, err := note.NewSigner(k.secret)
	if err != nil {
		return "", err
	}
	text, err := note.Sign(&note.Note{Text: noted.Text()}, signer)
	if err != nil {
		return "", err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o750); err != nil {
		return "", err
	}
	return string(text), os.WriteFile(path, text, 0o640)
}

// same reports whether a note that was made before says the same as one that would be made now, but for its time.
func (k *notes) same(text string, now store.Noted) bool {
	had, err := OpenNote(text, []string{k.public})
	if err != nil {
		return false
	}
	now.At = had.At
	return had == now
}

// NewestNote reads the note made last. Wraps fs.ErrNotExist where none was made yet.
func NewestNote(dir string) (string, error) {
	newest, err := lastNoted(dir)
	if err != nil {
		return "", err
	}
	if newest == 0 {
		return "", fmt.Errorf("no note was made yet; one is made at each sign-off: %w", fs.ErrNotExist)
	}
	b, err := os.ReadFile(filepath.Join(dir, NotesFolder, strconv.FormatUint(newest, 10)+".txt"))
	return string(b), err
}

// lastNoted is the entry of which the newest note lies there; 0 where none does.
func lastNoted(dir string) (uint64, error) {
	all, err := os.ReadDir(filepath.Join(dir, NotesFolder))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return 0, err
	}
	var newest uint64
	for _, f := range all {
		if n, err := strconv.ParseUint(strings.TrimSuffix(f.Name(), ".txt"), 10, 64); err == nil {
			newest = max(newest, n)
		}
	}
	return newest, nil
}

// asSigned gives back what a scanner, a mail or a copy by hand does to a note: other ends of lines, blanks around it.
func asSigned(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \t\r")
	}
	return strings.Join(lines, "\n") + "\n"
}

func verifiers(keys []string) (note.Verifiers, error) {
	var list []note.Verifier
	seen := map[string]bool{}
	for _, key := range keys {
		v, err := note.NewVerifier(key)
		if err != nil {
			return nil, fmt.Errorf("a key that the ledger names: %w", err)
		}
		if !seen[key] {
			list = append(list, v)
		}
		seen[key] = true
	}
	return note.VerifierList(list...), nil
}

// OpenNote checks a note's signature against the keys that a ledger names, and gives what it says.
func OpenNote(text string, keys []string) (store.Noted, error) {
	list, err := verifiers(keys)
	if err != nil {
		return store.Noted{}, err
	}
	opened, err := note.Open([]byte(asSigned(text)), list)
	var unverified *note.UnverifiedNoteError
	if errors.As(err, &unverified) {
		return store.Noted{}, errors.New("the note is signed with no key that this ledger names, nor by a hub that is known here: it is another bench's, or the ledger was made anew")
	}
	if err != nil {
		return store.Noted{}, fmt.Errorf("the note cannot be read: %w", err)
	}
	return store.ParseNoted(opened.Text)
}
