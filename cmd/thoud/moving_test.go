package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"thoud/cmd/thoud/guide"
	"thoud/cmd/thoud/service"
)

// The guide's words on moving house, done: a copy on the old machine, restored into an empty folder on the new one, whole
// there; the bench goes on measuring where it was, and the old notes stay checkable. Going back over a stream wants a word.
func TestMovingHouseAsTheGuideSays(t *testing.T) {
	text, err := guide.Text("backup")
	if err != nil {
		t.Fatal(err)
	}
	_, moving, ok := strings.Cut(text, "## Moving house")
	if !ok {
		t.Fatal("the guide says nothing of moving house")
	}
	moving, _, _ = strings.Cut(moving, "\n## ")
	at := 0
	for _, step := range []string{"`thoud backup`", "`thoud restore`", "`thoud verify`"} {
		i := strings.Index(moving[at:], step)
		if i < 0 {
			t.Fatalf("the guide's words do not name %s in this order: %s", step, moving)
		}
		at += i
	}

	old, next := t.TempDir(), filepath.Join(t.TempDir(), "state")
	v := serve(t, old)
	v.begin()
	v.read(11)
	v.stop()
	note, err := service.NewestNote(old)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(old, service.ProfilesFolder), 0o750); err != nil {
		t.Fatal(err)
	}
	profile, _, code := thoud(t, "profile", "show", "text-weight-lf")
	if code != exitDone {
		t.Fatal("no such profile")
	}
	profile = regexp.MustCompile(`(?m)^name *=.*$`).ReplaceAllString(profile, `name = "own-scale"`)
	if err := os.WriteFile(filepath.Join(old, service.ProfilesFolder, "own-scale.toml"), []byte(profile), 0o640); err != nil {
		t.Fatal(err)
	}
	copied := filepath.Join(t.TempDir(), "copy.tar.gz")
	if out, errs, code := thoud(t, "--state", old, "backup", copied); code != exitDone {
		t.Fatalf("backup: %s%s", out, errs)
	}
	if out, errs, code := thoud(t, "--state", next, "restore", copied); code != exitDone {
		t.Fatalf("restore into an empty folder: %s%s", out, errs)
	}
	if out, errs, code := thoud(t, "--state", next, "verify", "--note", note); code != exitDone {
		t.Fatalf("verify: %s%s", out, errs)
	}
	if _, err := os.Stat(filepath.Join(next, service.NoteKey)); err == nil {
		t.Error("the private key went with the copy")
	}
	if _, err := os.Stat(filepath.Join(next, service.ProfilesFolder, "own-scale.toml")); err != nil {
		t.Errorf("the profile of the shop's own: %v", err)
	}
	before, _, _ := thoud(t, "--state", old, "export", "--format", "jsonl")
	after, _, _ := thoud(t, "--state", next, "export", "--format", "jsonl")
	if before == "" || before != after {
		t.Error("what is exported is not the same on both machines")
	}

	// The bench goes on there; the ledger stays whole and still holds what the old note saw.
	w := serve(t, next)
	w.read(3)
	w.stop()
	if out, errs, code := thoud(t, "--state", next, "verify", "--note", note); code != exitDone {
		t.Errorf("after it went on: %s%s", out, errs)
	}
	longer, _, _ := thoud(t, "--state", next, "export", "--format", "jsonl")
	if len(longer) <= len(before) {
		t.Error("nothing was measured on the new machine")
	}

	// Going back on the new machine: there is a stream now, and restore wants to know what is to become of it.
	if _, errs, code := thoud(t, "--state", next, "restore", copied); code == exitDone || !strings.Contains(errs, "--keep-stream") || !strings.Contains(errs, "--drop-stream") {
		t.Errorf("over a stream without a word: status %d: %s", code, errs)
	}
	if out, errs, code := thoud(t, "--state", next, "restore", copied, "--drop-stream"); code != exitDone {
		t.Errorf("with a word: %s%s", out, errs)
	}
	if out, errs, code := thoud(t, "--state", next, "verify", "--note", note); code != exitDone {
		t.Errorf("after going back: %s%s", out, errs)
	}
}
