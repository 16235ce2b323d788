package service

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// plans are the shop's own plans, files of the state folder, beside those that ship.
type plans struct{ dir string }

var _ monitor.Plans = plans{}

// Own lists the shop's own plans by name.
func (p plans) Own() ([]string, error) { return OwnPlans(p.dir) }

// Text gives the text of a plan, the shop's own or one that ships.
func (p plans) Text(name string) ([]byte, error) { return PlanText(p.dir, name) }

// Keep keeps a plan of the shop's own.
func (p plans) Keep(name string, text []byte) error { return KeepPlan(p.dir, name, text) }

// OwnPlans lists the plans of a state folder by name.
func OwnPlans(dir string) ([]string, error) {
	files, err := filepath.Glob(filepath.Join(dir, PlansFolder, "*.toml"))
	var out []string
	for _, f := range files {
		out = append(out, strings.TrimSuffix(filepath.Base(f), ".toml"))
	}
	slices.Sort(out)
	return out, err
}

// PlanText gives the text of a plan: one that ships, or one of the state folder. Wraps fs.ErrNotExist where there is none.
func PlanText(dir, name string) ([]byte, error) {
	shipped, err := plan.Shipped()
	if err != nil {
		return nil, err
	}
	if slices.Contains(shipped, name) {
		return plan.ShippedText(name)
	}
	if !bench.ValidName(name) {
		return nil, fmt.Errorf("%q is no name of a plan: %w", name, fs.ErrNotExist)
	}
	text, err := os.ReadFile(filepath.Join(dir, PlansFolder, name+".toml"))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no plan %q, neither among those that ship (%s) nor among your own: %w", name, strings.Join(shipped, ", "), err)
	}
	return text, err
}

// KeepPlan writes a plan into the state folder: it is read first, and kept only where it is sound. One of that name that was
// there is written over; builds that were started with it keep their own copy.
func KeepPlan(dir, name string, text []byte) error {
	if !bench.ValidName(name) {
		return fmt.Errorf("%q cannot name a plan: want a-z, 0-9 and -, at most 32", name)
	}
	shipped, err := plan.Shipped()
	if err != nil {
		return err
	}
	if slices.Contains(shipped, name) {
		return fmt.Errorf("a plan that ships is called %q: take another name for your own", name)
	}
	if _, err := plan.Parse(name, text); err != nil {
		return err
	}
	folder := filepath.Join(dir, PlansFolder)
	if err := os.MkdirAll(folder, 0o750); err != nil {
		return err
	}
	part := filepath.Join(folder, "."+name+".part")
	if err := os.WriteFile(part, text, 0o640); err != nil {
		return err
	}
	if err := os.Rename(part, filepath.Join(folder, name+".toml")); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return syncFolder(folder)
}
