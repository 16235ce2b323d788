package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/cpuguy83/go-md2man/v2/md2man"
	"github.com/spf13/cobra/doc"

	"thoud/cmd/thoud/guide"
	"thoud/cmd/thoud/service"
)

// Man pages are made from the commands and from the guide: section 1 a page a command, section 7 a page a topic. They are
// made here and not by the program, whose binary would grow by what makes them. With THOUD_MAN set to a folder they, and
// the completions, are written there, for the package.
func TestManPages(t *testing.T) {
	dir := os.Getenv("THOUD_MAN")
	if dir == "" {
		dir = t.TempDir()
	}
	date := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC) // the same input gives the same bytes
	root := newRootCommand()
	root.DisableAutoGenTag = true
	if err := doc.GenManTree(root, &doc.GenManHeader{Section: "1", Date: &date, Source: "thoud " + service.Version(), Manual: "thoud"}, dir); err != nil {
		t.Fatal(err)
	}
	for _, topic := range guide.Topics() {
		text, err := guide.Text(topic.Name)
		if err != nil {
			t.Fatal(err)
		}
		name := "thoud-" + topic.Name
		head := fmt.Sprintf("%% %q \"7\" %q %q \"The guide to thoud\"\n\n# NAME\n\n", strings.ToUpper(name), date.Format("Jan 2006"), "thoud "+service.Version()) + name + " - " + topic.Title + "\n\n"
		if err := os.WriteFile(filepath.Join(dir, name+".7"), md2man.Render([]byte(head+text)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if b, err := os.ReadFile(filepath.Join(dir, "thoud-backup.7")); err != nil || !bytes.Contains(b, []byte("\n.TH \"THOUD-BACKUP\" \"7\" ")) {
		t.Errorf("the page of the guide names no section: %.80s (%v)", b, err)
	}
	for _, name := range []string{"thoud.1", "thoud-run.1", "thoud-build-start.1", "thoud-first-day.7", "thoud-settings.7"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || !bytes.Contains(b, []byte(".TH")) || !bytes.Contains(b, []byte(".SH")) {
			t.Errorf("%s is no man page: %v", name, err)
		}
	}
	for shell, write := range map[string]func(string) error{
		"bash": func(p string) error { return root.GenBashCompletionFileV2(p, true) },
		"zsh":  root.GenZshCompletionFile,
		"fish": func(p string) error { return root.GenFishCompletionFile(p, true) },
	} {
		path := filepath.Join(dir, "thoud."+shell)
		if err := write(path); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Size() < 1000 {
			t.Errorf("completion for %s: %v", shell, err)
		}
	}
}
