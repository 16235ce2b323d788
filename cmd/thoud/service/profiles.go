package service

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"thoud/devices"
)

// profileList is the profiles there are, for those who look for gauges; it grows where one is taught.
type profileList struct {
	tell func(devices.Profile) // the bench, of one that was taught

	mu sync.Mutex
	of map[string]devices.Profile
}

// all lists them by name.
func (l *profileList) all() []devices.Profile {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []devices.Profile
	for _, name := range slices.Sorted(maps.Keys(l.of)) {
		out = append(out, l.of[name])
	}
	return out
}

// add takes in a profile that was taught.
func (l *profileList) add(p devices.Profile) {
	l.mu.Lock()
	of := maps.Clone(l.of)
	of[p.Name] = p
	l.of = of
	l.mu.Unlock()
	l.tell(p)
}

func (l *profileList) has(name string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	_, ok := l.of[name]
	return ok
}

// KeepProfile writes a taught profile into the folder of the user's own and gives the file's path. A profile that is there
// already is left as it is, and that is an error.
func KeepProfile(dir string, p devices.Profile) (path string, err error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", fmt.Errorf("profiles folder: %w", err)
	}
	path = filepath.Join(dir, p.Name+".toml")
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
	if err != nil {
		return "", fmt.Errorf("profile %s: %w: take another name, or move the old one away", path, err)
	}
	if _, err := f.Write(p.TOML()); err != nil {
		f.Close()
		return "", fmt.Errorf("profile %s: %w", path, err)
	}
	if err := f.Close(); err != nil {
		return "", fmt.Errorf("profile %s: %w", path, err)
	}
	return path, nil
}
