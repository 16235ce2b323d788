package simulate

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// plug makes a new terminal and points the link at it. The lock is held.
func (g *Gauge) plug(name string) error {
	t, err := openTerminal(g.heard)
	if err != nil {
		return fmt.Errorf("simulate %q: %w", g.o.Name, err)
	}
	link := filepath.Join(g.o.Dir, name)
	// A new link takes the old one's place in one step, as udev does it.
	temp := link + ".new"
	if err := errors.Join(removeIfThere(temp), os.Symlink(t.slave.Name(), temp), os.Rename(temp, link)); err != nil {
		return errors.Join(fmt.Errorf("simulate %q: link: %w", g.o.Name, err), t.close())
	}
	g.term, g.link, g.asked = t, link, nil
	return nil
}

func removeIfThere(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// Unplug pulls the plug: the pseudo-terminal hangs up, the link goes, a stream ends. Unplugging twice is no error.
func (g *Gauge) Unplug() error {
	g.Stop()
	g.mu.Lock()
	t := g.term
	g.term, g.held = nil, nil
	err := removeIfThere(g.link)
	g.mu.Unlock()
	if t != nil {
		// Outside the lock: the goroutine that hears requests may be waiting for it.
		err = errors.Join(err, t.close())
	}
	if err != nil {
		return fmt.Errorf("simulate %q: unplug: %w", g.o.Name, err)
	}
	return nil
}

// Replug puts the plug in again, on a new pseudo-terminal, with the link of this name, "" for the name it had.
func (g *Gauge) Replug(newName string) error {
	if err := g.Unplug(); err != nil {
		return err
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if newName == "" {
		newName = filepath.Base(g.link)
	}
	return g.plug(newName)
}

// PowerCycle switches the gauge off and on: unplugged, plugged in again under the same name, and where the zero is
// lost it shows 0 at the place where it stands.
func (g *Gauge) PowerCycle(lostZero bool) error {
	if err := g.Replug(""); err != nil {
		return err
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if lostZero {
		for _, m := range g.models {
			m.zero()
		}
	}
	return nil
}
