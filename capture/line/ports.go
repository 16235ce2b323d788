package line

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"thoud/capture/bench"
)

// Finder finds serial ports and tells them apart by what is plugged in, from sysfs and /dev/serial. It opens none of
// them: opening would disturb a gauge.
type Finder struct {
	Sys string // "/sys/class/tty"
	Dev string // "/dev"
}

// SystemPorts is the Finder of this machine.
func SystemPorts() Finder { return Finder{Sys: "/sys/class/tty", Dev: "/dev"} }

// FoundPort is a serial port that something is plugged into.
type FoundPort struct {
	Path     string      `json:"path"`
	Known    bench.Known `json:"known"`
	Identity string      `json:"identity"`
	Adapter  string      `json:"adapter,omitempty"` // what the adapter calls itself
	Socket   string      `json:"socket,omitempty"`  // the by-path link
}

// List gives the ports of plugged-in adapters.
func (f Finder) List() ([]FoundPort, error) {
	names, err := os.ReadDir(f.Sys)
	if err != nil {
		return nil, fmt.Errorf("ports: %w", err)
	}
	var out []FoundPort
	for _, n := range names {
		if p, ok := f.usb(n.Name()); ok {
			out = append(out, p)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Path < out[j].Path })
	return out, nil
}

// Identify tells by what the port at a path will be found again.
func (f Finder) Identify(path string) (FoundPort, error) {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return FoundPort{}, openError(path, err)
	}
	if p, ok := f.usb(filepath.Base(real)); ok {
		return p, nil
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return FoundPort{}, fmt.Errorf("port %s: %w", path, err)
	}
	return FoundPort{Path: abs, Known: bench.KnownPath, Identity: abs}, nil
}

// usb describes a tty of a USB adapter; ok is false for any other.
func (f Finder) usb(name string) (FoundPort, bool) {
	dev, err := filepath.EvalSymlinks(filepath.Join(f.Sys, name, "device"))
	if err != nil {
		return FoundPort{}, false
	}
	p := FoundPort{Path: filepath.Join(f.Dev, name), Socket: f.socket(name)}
	iface := ""
	for dir := dev; len(dir) > 1; dir = filepath.Dir(dir) {
		if n := attribute(dir, "bInterfaceNumber"); n != "" && iface == "" {
			iface = n
		}
		vendor := attribute(dir, "idVendor")
		if vendor == "" {
			continue
		}
		p.Adapter = strings.TrimSpace(attribute(dir, "manufacturer") + " " + attribute(dir, "product"))
		serial := attribute(dir, "serial")
		if serial == "" {
			if p.Socket == "" {
				return p, false
			}
			p.Known, p.Identity = bench.KnownSocket, filepath.Base(p.Socket)
			return p, true
		}
		p.Known, p.Identity = bench.KnownUSB, strings.Join([]string{vendor, attribute(dir, "idProduct"), serial, iface}, ":")
		return p, true
	}
	return FoundPort{}, false
}

// socket finds the by-path link of a tty: it names the socket that the adapter is plugged into.
func (f Finder) socket(name string) string {
	dir := filepath.Join(f.Dev, "serial", "by-path")
	links, err := os.ReadDir(dir)
	if err != nil {
		return ""
	}
	for _, l := range links {
		if to, err := os.Readlink(filepath.Join(dir, l.Name())); err == nil && filepath.Base(to) == name {
			return filepath.Join(dir, l.Name())
		}
	}
	return ""
}

func attribute(dir, name string) string {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// Resolve finds where a registered gauge is plugged in now. Errors wrap ErrNoPort.
func (f Finder) Resolve(g bench.Gauge) (string, error) {
	if g.Known == bench.KnownPath {
		return g.Port, nil
	}
	ports, err := f.List()
	if err != nil {
		return "", err
	}
	for _, p := range ports {
		if p.Known == g.Known && p.Identity == g.Identity {
			return p.Path, nil
		}
	}
	if g.Known == bench.KnownSocket {
		return "", fmt.Errorf("gauge %q: %w in its socket %s: plug it into the same socket it was registered at", g.Name, ErrNoPort, g.Identity)
	}
	return "", fmt.Errorf("gauge %q: %w: its adapter (%s) is not plugged in", g.Name, ErrNoPort, g.Identity)
}

// ResolvePort is Resolve on this machine.
func ResolvePort(g bench.Gauge) (string, error) { return SystemPorts().Resolve(g) }
