package service

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/pelletier/go-toml/v2"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// Settings is thoud.toml in the state folder. Every key has a default, so the file need not be there.
type Settings struct {
	Bench   string            `toml:"bench"`
	Lockout string            `toml:"lockout"` // after a reading a gauge's own key is ignored for so long
	Keys    map[string]string `toml:"keys"`    // pedal or gauge key → verb
	Backup  string            `toml:"backup"`  // folder for a checked copy after each working day
	Monitor MonitorSettings   `toml:"monitor"`
}

// MonitorSettings are those of the shop monitor.
type MonitorSettings struct {
	Listen   string   `toml:"listen"`
	Hosts    []string `toml:"hosts"`     // names the monitor may be called by, besides its address
	WorkCode string   `toml:"work_code"` // hash made by thoud code; needed to listen wider than this machine
	LookCode string   `toml:"look_code"` // hash of the code for those who only look
	TLSCert  string   `toml:"tls_cert"`
	TLSKey   string   `toml:"tls_key"`
	Metrics  string   `toml:"metrics"` // "open" lets other machines ask for /metrics and /healthz
	Pedal    string   `toml:"pedal"`   // the key a pedal types in the browser
}

// DefaultSettings are what holds where thoud.toml says nothing.
func DefaultSettings() Settings {
	return Settings{Bench: "bench", Lockout: "700ms", Monitor: MonitorSettings{Listen: monitor.DefaultListen, Pedal: monitor.DefaultPedal}}
}

// settingsMost is how large the settings may be.
const settingsMost = 64 << 10

// ReadSettings reads thoud.toml strictly: an unknown key is a fault, with line and column.
func ReadSettings(dir string) (Settings, error) {
	c := DefaultSettings()
	path := filepath.Join(dir, SettingsName)
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return c, nil
	}
	if err != nil {
		return c, fmt.Errorf("%s: %w", path, err)
	}
	defer f.Close()
	b, err := io.ReadAll(io.LimitReader(f, settingsMost+1))
	if err != nil {
		return c, fmt.Errorf("%s: %w", path, err)
	}
	if len(b) > settingsMost {
		return c, fmt.Errorf("%s: more than %d kB: are these the settings?", path, settingsMost>>10)
	}
	dec := toml.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&c); err != nil {
		return c, tomlFault(path, err)
	}
	if !bench.ValidName(c.Bench) {
		return c, fmt.Errorf("%s: bench = %q: want a-z, 0-9 and -, at most 32", path, c.Bench)
	}
	if m := c.Monitor.Metrics; m != "" && m != metricsOpen {
		return c, fmt.Errorf("%s: metrics = %q under [monitor]: want \"open\", or leave it out", path, m)
	}
	if c.Backup != "" && !filepath.IsAbs(c.Backup) {
		return c, fmt.Errorf("%s: backup = %q: want the whole path of a folder, best on another disk", path, c.Backup)
	}
	if _, err := time.ParseDuration(c.Lockout); err != nil {
		return c, fmt.Errorf("%s: lockout = %q: want a duration, as \"700ms\"", path, c.Lockout)
	}
	return c, nil
}

// BenchName is the name of the bench of a state folder. Whoever may use the service need not be allowed to read its settings,
// which hold hashes of access codes: then the ledger says it.
func BenchName(ctx context.Context, dir string) (string, error) {
	c, err := ReadSettings(dir)
	if err == nil || !errors.Is(err, fs.ErrPermission) {
		return c.Bench, err
	}
	s, lerr := store.OpenReadOnly(ctx, filepath.Join(dir, LedgerName))
	if lerr != nil {
		return "", errors.Join(err, lerr)
	}
	name, lerr := s.Bench(ctx)
	lerr = errors.Join(lerr, s.Close())
	if lerr != nil || name == "" {
		return "", errors.Join(err, lerr)
	}
	return name, nil
}

func (c Settings) lockout() time.Duration {
	d, err := time.ParseDuration(c.Lockout)
	if err != nil {
		return 700 * time.Millisecond
	}
	return d
}

// tomlFault puts line and column into a TOML error.
func tomlFault(path string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, col := strict.Errors[0].Position()
		return fmt.Errorf("%s:%d:%d: unknown key %q: is it misspelt?", path, row, col, keyPath(strict.Errors[0].Key()))
	}
	var dec *toml.DecodeError
	if errors.As(err, &dec) {
		row, col := dec.Position()
		return fmt.Errorf("%s:%d:%d: %s", path, row, col, dec.Error())
	}
	return fmt.Errorf("%s: %w", path, err)
}

func keyPath(k toml.Key) string {
	s := ""
	for i, part := range k {
		if i > 0 {
			s += "."
		}
		s += part
	}
	return s
}
