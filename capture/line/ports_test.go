package line

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/bench"
)

// tree is a /sys and a /dev in a folder.
type tree struct {
	tb   testing.TB
	root string
}

func (r tree) finder() Finder {
	return Finder{Sys: filepath.Join(r.root, "sys/class/tty"), Dev: filepath.Join(r.root, "dev")}
}

func (r tree) write(path, text string) {
	r.tb.Helper()
	path = filepath.Join(r.root, path)
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.WriteFile(path, []byte(text), 0o600)); err != nil {
		r.tb.Fatal(err)
	}
}

func (r tree) link(to, path string) {
	r.tb.Helper()
	path = filepath.Join(r.root, path)
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o700), os.Symlink(to, path)); err != nil {
		r.tb.Fatal(err)
	}
}

// adapter plugs an adapter into a socket of the bus; its tty gets a name. The layout is that of the kernel's
// Documentation/ABI for USB: the device has idVendor and serial, the interface below it bInterfaceNumber.
func (r tree) adapter(socket, name, serial string) {
	dev := "sys/devices/pci0000:00/usb1/" + socket
	r.write(dev+"/idVendor", "f0f0\n")
	r.write(dev+"/idProduct", "0101\n")
	r.write(dev+"/manufacturer", "Bench\n")
	r.write(dev+"/product", "Adapter\n")
	if serial != "" {
		r.write(dev+"/serial", serial+"\n")
	}
	iface := dev + "/" + socket + ":1.0"
	r.write(iface+"/bInterfaceNumber", "00\n")
	r.write(iface+"/"+name+"/dev", "188:0\n")
	r.link(filepath.Join(r.root, iface, name), "sys/class/tty/"+name+"/device")
	r.write("dev/"+name, "")
	r.link("../../"+name, "dev/serial/by-path/pci-0000:00-usb-0:"+socket+":1.0-port0")
}

func (r tree) pull(name string) {
	r.tb.Helper()
	links, err := filepath.Glob(filepath.Join(r.root, "dev/serial/by-path/*"))
	if err != nil {
		r.tb.Fatal(err)
	}
	errs := []error{os.RemoveAll(filepath.Join(r.root, "sys/class/tty", name)), os.Remove(filepath.Join(r.root, "dev", name))}
	for _, l := range links {
		if to, err := os.Readlink(l); err == nil && filepath.Base(to) == name {
			errs = append(errs, os.Remove(l))
		}
	}
	if err := errors.Join(errs...); err != nil {
		r.tb.Fatal(err)
	}
}

func TestAGaugeIsFoundAgainUnderAnotherName(t *testing.T) {
	r := tree{t, t.TempDir()}
	r.write("sys/class/tty/tty0/dev", "4:0\n")   // a console: no device, no port
	r.write("sys/class/tty/ttyS0/dev", "4:64\n") // an on-board port without a device
	r.adapter("1-2", "ttyUSB0", "A1")
	r.adapter("1-3", "ttyUSB1", "B2")
	f := r.finder()
	found, err := f.List()
	if err != nil {
		t.Fatal(err)
	}
	want := []FoundPort{
		{Path: filepath.Join(r.root, "dev/ttyUSB0"), Known: bench.KnownUSB, Identity: "f0f0:0101:A1:00", Adapter: "Bench Adapter", Socket: filepath.Join(r.root, "dev/serial/by-path/pci-0000:00-usb-0:1-2:1.0-port0")},
		{Path: filepath.Join(r.root, "dev/ttyUSB1"), Known: bench.KnownUSB, Identity: "f0f0:0101:B2:00", Adapter: "Bench Adapter", Socket: filepath.Join(r.root, "dev/serial/by-path/pci-0000:00-usb-0:1-3:1.0-port0")},
	}
	if diff := cmp.Diff(want, found); diff != "" {
		t.Error(diff)
	}
	g := bench.Gauge{Name: "dial-1", Known: found[0].Known, Identity: found[0].Identity, Port: found[0].Path}
	r.pull("ttyUSB0")
	if _, err := f.Resolve(g); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), `gauge "dial-1"`) {
		t.Errorf("unplugged: %v", err)
	}
	r.adapter("1-4", "ttyUSB2", "A1") // into another socket
	if got, err := f.Resolve(g); err != nil || got != filepath.Join(r.root, "dev/ttyUSB2") {
		t.Errorf("back as %s, %v; want ttyUSB2", got, err)
	}
}

func TestAGaugeWithoutASerialNumberIsKnownByItsSocket(t *testing.T) {
	r := tree{t, t.TempDir()}
	r.adapter("1-2", "ttyUSB0", "")
	f := r.finder()
	p, err := f.Identify(filepath.Join(r.root, "dev/ttyUSB0"))
	if err != nil || p.Known != bench.KnownSocket {
		t.Fatalf("%+v, %v", p, err)
	}
	g := bench.Gauge{Name: "cal-1", Known: p.Known, Identity: p.Identity, Port: p.Path}
	r.pull("ttyUSB0")
	r.adapter("1-7", "ttyUSB0", "") // the same name, in another socket: another gauge for all that can be told
	if _, err := f.Resolve(g); !errors.Is(err, ErrNoPort) || !strings.Contains(err.Error(), "plug it into the same socket it was registered at") {
		t.Errorf("in another socket: %v", err)
	}
	r.adapter("1-2", "ttyUSB5", "")
	if got, err := f.Resolve(g); err != nil || got != filepath.Join(r.root, "dev/ttyUSB5") {
		t.Errorf("in its socket again: %s, %v; want ttyUSB5", got, err)
	}
}

func TestIdentifyWhatIsNoAdapter(t *testing.T) {
	r := tree{t, t.TempDir()}
	r.write("dev/pts/7", "")
	r.link("pts/7", "dev/dial")
	f := Finder{Sys: filepath.Join(r.root, "sys"), Dev: filepath.Join(r.root, "dev")}
	p, err := f.Identify(filepath.Join(r.root, "dev/dial"))
	if err != nil || p.Known != bench.KnownPath || p.Path != filepath.Join(r.root, "dev/dial") {
		t.Errorf("a link to a pseudo-terminal: %+v, %v", p, err)
	}
	if _, err := f.Identify(filepath.Join(r.root, "dev/none")); !errors.Is(err, ErrNoPort) {
		t.Errorf("nothing there: %v", err)
	}
	if _, err := f.List(); err == nil {
		t.Error("without a /sys no error is given")
	}
}
