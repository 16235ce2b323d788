package devices

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"sort"
)

//go:embed profiles/*.toml
var shipped embed.FS

// Profiles gives the profiles that ship and those of the user's own folder (nil for none), by name. A user's profile
// takes the place of a shipped one of the same name. A fault in the user's folder is an error for that file; the good
// ones are returned beside it.
func Profiles(user fs.FS) ([]Profile, error) {
	byName := map[string]Profile{}
	base, err := fs.Sub(shipped, "profiles")
	if err != nil {
		return nil, fmt.Errorf("shipped profiles: %w", err)
	}
	errs := []error{readProfiles(base, byName)}
	if user != nil {
		errs = append(errs, readProfiles(user, byName))
	}
	list := make([]Profile, 0, len(byName))
	for _, p := range byName {
		list = append(list, p)
	}
	sort.Slice(list, func(i, j int) bool { return list[i].Name < list[j].Name })
	return list, errors.Join(errs...)
}

func readProfiles(dir fs.FS, into map[string]Profile) error {
	names, err := fs.Glob(dir, "*.toml")
	if err != nil {
		return fmt.Errorf("profiles: %w", err)
	}
	var errs []error
	seen := map[string]string{}
	for _, name := range names {
		data, err := fs.ReadFile(dir, name)
		if err != nil {
			errs = append(errs, fmt.Errorf("profile: %w", err))
			continue
		}
		p, err := ParseProfile(path.Base(name), data)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if other, ok := seen[p.Name]; ok {
			errs = append(errs, fmt.Errorf("%s: the name %q stands in %s too; give one of them another", name, p.Name, other))
			continue
		}
		seen[p.Name] = name
		into[p.Name] = p
	}
	return errors.Join(errs...)
}
