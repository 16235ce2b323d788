package service

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/nats-io/nkeys"
	"github.com/pelletier/go-toml/v2"

	"thoud/capture/bench"
	"thoud/pipeline/bus"
)

// HubsFolder holds the invitations that a bench has joined, one file a hub. They hold the bench's key for that hub, and are
// in no backup: a bench that was put back is invited anew, which ends the old key.
const HubsFolder = "hubs"

// Invitation is all that a bench needs to be linked to a hub. Whoever has it can answer for that bench.
type Invitation struct {
	Hub       string   `toml:"hub"`
	Bench     string   `toml:"bench"`
	Address   []string `toml:"address"`       // HOST:PORT of the hub, or of servers that lead to it
	Seed      string   `toml:"seed"`          // the private nkey that the hub knows the bench by
	JWT       string   `toml:"jwt,omitempty"` // what servers that an operator keeps know the bench by besides
	Server    string   `toml:"server"`        // the name in the hub's certificate; "" that of the address
	Authority string   `toml:"authority"`     // the only one whose certificate counts, PEM; "" those that this machine trusts
	Witness   string   `toml:"witness"`       // public key of the hub's own signature under notes
}

const invitationHead = `# Invitation of a bench to a hub: thoud join FILE, at the bench.
# Whoever has this file can answer for the bench: carry it by hand, and delete it once the bench has joined.
`

// Text is the invitation as a file.
func (i Invitation) Text() ([]byte, error) {
	b, err := toml.Marshal(i)
	return append([]byte(invitationHead), b...), err
}

// ParseInvitation reads what Text wrote, strictly.
func ParseInvitation(name string, b []byte) (Invitation, error) {
	var i Invitation
	dec := toml.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&i); err != nil {
		return i, tomlFault(name, err)
	}
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%s: %s; is this the file that thoud hub invite wrote?", name, fmt.Sprintf(format, args...))
	}
	switch kind, _, err := nkeys.DecodeSeed([]byte(i.Seed)); {
	case !bench.ValidName(i.Hub):
		return i, bad("hub = %q is no name: want a-z, 0-9 and -, at most 32", i.Hub)
	case !bench.ValidName(i.Bench):
		return i, bad("bench = %q is no name: want a-z, 0-9 and -, at most 32", i.Bench)
	case err != nil || kind != nkeys.PrefixByteUser:
		return i, bad("the seed is none of a user")
	case len(i.Address) == 0:
		return i, bad("no address is given")
	}
	for _, a := range i.Address {
		if host, port, err := net.SplitHostPort(a); err != nil || host == "" || port == "" {
			return i, bad("address %q: want HOST:PORT", a)
		}
	}
	if _, err := i.tls(); err != nil {
		return i, bad("%v", err)
	}
	return i, nil
}

// tls is how the bench makes sure that it speaks to the hub.
func (i Invitation) tls() (*tls.Config, error) {
	c := &tls.Config{MinVersion: tls.VersionTLS13, ServerName: i.Server}
	if i.Authority != "" {
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM([]byte(i.Authority)) {
			return nil, errors.New("the authority is no certificate")
		}
	}
	return c, nil
}

// Trust sets the only authority whose certificates count for a link, from a file.
func (i *Invitation) Trust(file string) error {
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	i.Authority = string(b)
	if _, err := i.tls(); err != nil {
		return fmt.Errorf("%s: it holds no certificate in PEM", file)
	}
	return nil
}

// Join keeps an invitation in a bench's state folder; the service links at its next start. An older one of the same hub is
// replaced.
func Join(dir, benchName string, i Invitation) error {
	if i.Bench != benchName {
		return fmt.Errorf("the invitation is for bench %q, this one is %q: set bench = %q in %s if nothing was recorded here yet, or have this bench invited", i.Bench, benchName, i.Bench, SettingsName)
	}
	text, err := i.Text()
	if err != nil {
		return err
	}
	folder := filepath.Join(dir, HubsFolder)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return err
	}
	return writeSafely(filepath.Join(folder, i.Hub+".toml"), text)
}

// Leave takes a hub's invitation away. Wraps fs.ErrNotExist where there is none.
func Leave(dir, hubName string) error {
	err := os.Remove(filepath.Join(dir, HubsFolder, hubName+".toml"))
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	var have []string
	all, err := Joined(dir)
	for _, i := range all {
		have = append(have, i.Hub)
	}
	if err == nil {
		err = fs.ErrNotExist
	}
	return fmt.Errorf("hub %q: this bench has not joined it (joined: %s): %w", hubName, strings.Join(have, ", "), err)
}

// Joined gives the invitations that a bench has joined, in the order of the hubs' names.
func Joined(dir string) ([]Invitation, error) {
	files, err := filepath.Glob(filepath.Join(dir, HubsFolder, "*.toml"))
	if err != nil {
		return nil, err
	}
	slices.Sort(files)
	var out []Invitation
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		i, err := ParseInvitation(f, b)
		if err != nil {
			return nil, err
		}
		out = append(out, i)
	}
	return out, nil
}

// leaf is the invitation as the bus links by it.
func (i Invitation) leaf() (bus.Leaf, error) {
	c, err := i.tls()
	l := bus.Leaf{Hub: i.Hub, Addresses: i.Address, Seed: i.Seed, TLS: c}
	if i.JWT != "" {
		l.Sign = i.sign
	}
	return l, err
}

// sign answers an operator's server: who the bench is, and that it has the key.
func (i Invitation) sign(nonce []byte) (jwt string, signature []byte, err error) {
	pair, err := nkeys.FromSeed([]byte(i.Seed))
	if err == nil {
		signature, err = pair.Sign(nonce)
	}
	return i.JWT, signature, err
}
