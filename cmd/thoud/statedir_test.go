package main

import (
	"net"
	"os"
	"path/filepath"
	"testing"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
)

// Who uses the installed service types no --state; who keeps a ledger of their own keeps that one.
func TestStateFolder(t *testing.T) {
	before := service.Installed
	t.Cleanup(func() { service.Installed = before })
	asked := func(args ...string) (usual, own string) {
		t.Helper()
		cmd := &cobra.Command{Use: "x"}
		cmd.Flags().String("state", "", "")
		if err := cmd.ParseFlags(args); err != nil {
			t.Fatal(err)
		}
		usual, err := stateDir(cmd)
		if err != nil {
			t.Fatal(err)
		}
		own, _, err = ownStateDir(cmd)
		if err != nil {
			t.Fatal(err)
		}
		return usual, own
	}
	mine := filepath.Join(t.TempDir(), "thoud")
	t.Setenv("XDG_STATE_HOME", filepath.Dir(mine))
	t.Setenv("STATE_DIRECTORY", "")
	theirs := t.TempDir()
	service.Installed = service.Place{Dir: theirs, Socket: filepath.Join(t.TempDir(), "s")}
	same := func(what, got, want string) {
		t.Helper()
		if got != want {
			t.Errorf("%s: %s, want %s", what, got, want)
		}
	}
	usual, _ := asked()
	same("nothing is installed", usual, mine)

	l, err := net.Listen("unix", service.Installed.Socket)
	if err != nil {
		t.Fatal(err)
	}
	usual, own := asked()
	same("an installed service runs", usual, theirs)
	same("a service begun by hand beside it", own, mine)
	usual, _ = asked("--state", "/elsewhere")
	same("--state", usual, "/elsewhere")
	t.Setenv("STATE_DIRECTORY", "/manager:/second")
	usual, _ = asked()
	same("the service manager's", usual, "/manager")
	t.Setenv("STATE_DIRECTORY", "")

	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	usual, _ = asked()
	same("it is stopped and has no ledger", usual, mine)
	write := func(dir string) {
		t.Helper()
		if err := os.MkdirAll(dir, 0o750); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, service.LedgerName), nil, 0o640); err != nil {
			t.Fatal(err)
		}
	}
	write(theirs)
	usual, _ = asked()
	same("it is stopped and has a ledger", usual, theirs)
	write(mine)
	usual, _ = asked()
	same("a ledger of one's own", usual, mine)
}
