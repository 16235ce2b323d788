package service

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// FuzzSettings reads settings of any bytes: they are taken, or one sentence says what is wrong and where.
func FuzzSettings(f *testing.F) {
	for _, s := range []string{"", "bench = \"shop-2\"\nlockout = \"500ms\"\nbackup = \"/mnt/disk\"\n[monitor]\nlisten = \"0.0.0.0:8750\"\nhosts = [\"bench\"]\nmetrics = \"open\"\n",
		"[keys]\nF9 = \"take\"\n", "bench = \"Shop\"\n", "lockout = \"soon\"\n", "bnech = \"x\"\n", "bench = [\n", "backup = \"here\"\n", "\x00", "[monitor]\nlisten = 5\n",
		"a.b.c.d.e = {f = {g = [[[[1]]]]}}\n", "bench = \"" + strings.Repeat("a", 100) + "\"\n"} {
		f.Add([]byte(s))
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		path := filepath.Join(dir, SettingsName)
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
		s, err := ReadSettings(dir)
		switch {
		case err == nil && (s.Bench == "" || s.lockout().String() == "" || len(text) > settingsMost):
			t.Errorf("taken: %+v", s)
		case err != nil && (!strings.Contains(err.Error(), SettingsName) || strings.ContainsAny(err.Error(), "\x00\x1b\r")):
			t.Errorf("refused with %q", err)
		}
	})
}
