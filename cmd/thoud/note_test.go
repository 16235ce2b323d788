package main

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/cmd/thoud/service"
)

// The service signs where the ledger ends. The note holds against the ledger it saw and one that went on; against one
// that a result was taken out of, that was cut short, or that is another bench's, it does not, even where the forger made
// every sum right.
func TestANoteHoldsAgainstItsLedgerAlone(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(11)
	v.stop()
	text, err := service.NewestNote(dir)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(filepath.Join(dir, service.NoteKey)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key: %v, %v; want it readable by its owner alone", info.Mode(), err)
	}
	if out, errs, code := command(dir, "note"); code != 0 || out != text {
		t.Errorf("thoud note: status %d, %q %s", code, out, errs)
	}
	verify := func(dir, note string) (string, int) {
		out, errs, code := command(dir, "verify", "--note", note)
		return out + errs, code
	}
	if out, code := verify(dir, text); code != 0 || !strings.Contains(out, "held against a note of entry") {
		t.Errorf("against its own ledger: status %d, %s", code, out)
	}
	v = serve(t, dir)
	v.read(5)
	v.stop()
	if out, code := verify(dir, text); code != 0 {
		t.Errorf("against its ledger that went on: status %d, %s", code, out)
	}
	if out, code := verify(dir, strings.Replace(text, "results ", "results 1", 1)); code == 0 {
		t.Errorf("a note that was changed: %s", out)
	}
	other := t.TempDir()
	w := serve(t, other)
	w.begin()
	w.stop()
	if out, code := verify(other, text); code == 0 || !strings.Contains(out, "no key that this ledger names") {
		t.Errorf("against another bench's ledger: status %d, %s", code, out)
	}
	db, err := sql.Open("sqlite", filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []string{"DELETE FROM run_reading WHERE run = 2", "DELETE FROM run WHERE id = 2"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if out, code := verify(dir, text); code == 0 || !strings.Contains(out, "the note saw") {
		t.Errorf("with a result taken out: status %d, %s", code, out)
	}
}

// A note comes back from a telephone, a mail or a keyboard with other ends of lines and blanks around it: it is the same note.
func TestANoteComesBackFromPaper(t *testing.T) {
	state := t.TempDir()
	if _, errs, code := thoud(t, "demo", "--fast", "--exit", "--plan", "first-fit", "--state", state, "--listen", "127.0.0.1:0"); code != exitDone {
		t.Fatal(errs)
	}
	text, errs, code := thoud(t, "--state", state, "note")
	if code != exitDone {
		t.Fatal(errs)
	}
	for name, came := range map[string]string{
		"as it is": text, "an empty line after it": text + "\n", "no line's end": strings.TrimSuffix(text, "\n"),
		"lines as Windows ends them": strings.ReplaceAll(text, "\n", "\r\n"), "blanks around it": "\n  " + strings.ReplaceAll(text, "\n", "  \n"),
	} {
		file := filepath.Join(t.TempDir(), "note.txt")
		if err := os.WriteFile(file, []byte(came), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, errs, code := thoud(t, "--state", state, "verify", "--note", file); code != exitDone {
			t.Errorf("%s: %s%s", name, out, errs)
		}
	}
	other := strings.Replace(text, "entry ", "entry 1", 1)
	if _, _, code := thoud(t, "--state", state, "verify", "--note", other); code == exitDone {
		t.Error("a note that was changed is taken")
	}
}
