package store_test

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"thoud/store"
	"thoud/store/ledgertest"
)

// asOther names the ledger that this program shall read as another user; the test runs itself again with it.
const asOther = "THOUD_TEST_READ_AS_OTHER"

// A person of the group looks at the ledger of a service that is stopped: they may read the folder, not write in it.
func TestALedgerAtRestIsReadWithoutWriting(t *testing.T) {
	if path := os.Getenv(asOther); path != "" {
		s, err := store.OpenReadOnly(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.Count(t.Context(), ledgertest.Bench)
		if err := errors.Join(err, s.Close()); err != nil {
			t.Fatal(err)
		}
		t.Logf("%d entries", c.Entries)
		return
	}
	if os.Geteuid() != 0 {
		t.Skip("only root can become another user")
	}
	dir, err := os.MkdirTemp("/var/tmp", "thoud-at-rest-") // t.TempDir lies in a folder that others may not enter
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	path := filepath.Join(dir, store.File)
	s, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	self := filepath.Join(dir, "self")
	if b, err := os.ReadFile("/proc/self/exe"); err != nil {
		t.Fatal(err)
	} else if err := os.WriteFile(self, b, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Chmod(dir, 0o755), os.Chmod(path, 0o644)); err != nil {
		t.Fatal(err)
	}
	read := func() (string, error) {
		cmd := exec.Command(self, "-test.run", "^TestALedgerAtRestIsReadWithoutWriting$", "-test.v", "-test.count=1")
		cmd.Dir, cmd.Env = dir, append(os.Environ(), asOther+"="+path)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	if out, err := read(); err != nil || !strings.Contains(out, "0 entries") {
		t.Errorf("at rest: %v\n%s", err, out)
	}
	// What a service that was cut off left behind cannot be read without putting it in order: that is said, not guessed.
	if err := os.WriteFile(path+"-wal", make([]byte, 64), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, err := read(); err == nil || !strings.Contains(out, "the service was cut off") {
		t.Errorf("cut off: %v\n%s", err, out)
	}
}
