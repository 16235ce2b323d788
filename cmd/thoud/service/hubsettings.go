package service

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/nats-io/nkeys"
	"github.com/pelletier/go-toml/v2"

	"thoud/capture/bench"
	"thoud/pipeline/bus"
)

// Names in a hub's state folder, besides the ledger and the key of notes.
const (
	HubSettingsName = "hub.toml"
	invitedName     = "invited.json" // who was invited, with their public keys
)

// HubSettings is hub.toml in a hub's state folder. Every key has a default, so the file need not be there.
type HubSettings struct {
	Name    string   `toml:"name"`
	Listen  string   `toml:"listen"`   // where benches link to
	Address []string `toml:"address"`  // HOST:PORT that invitations name
	Poll    string   `toml:"poll"`     // how often a bench is asked that says nothing
	TLSCert string   `toml:"tls_cert"` // else the hub makes its own
	TLSKey  string   `toml:"tls_key"`
	Backup  string   `toml:"backup"` // folder for a checked copy after each working day
	NATS    HubNATS  `toml:"nats"`
	Monitor HubPages `toml:"monitor"`
}

// HubPages are the hub's pages: all benches, and each bench's own, to look at.
type HubPages struct {
	Listen   string            `toml:"listen"`
	Hosts    []string          `toml:"hosts"`
	LookCode string            `toml:"look_code"` // hash made by thoud code: who knows it sees every bench
	Codes    map[string]string `toml:"codes"`     // hashes by bench: who knows one sees that bench
	TLSCert  string            `toml:"tls_cert"`
	TLSKey   string            `toml:"tls_key"`
}

// HubNATS is an existing cluster that carries the links in place of a server of the hub's own.
type HubNATS struct {
	URL   []string `toml:"url"`
	Seed  string   `toml:"seed"`  // file of the private nkey the hub logs in with
	Creds string   `toml:"creds"` // or a credentials file
	CA    string   `toml:"ca"`    // file of the authority of the cluster's certificates
}

// DefaultHubSettings are what holds where hub.toml says nothing.
func DefaultHubSettings() HubSettings {
	return HubSettings{Name: "hub", Listen: "0.0.0.0:7422", Poll: "1s", Monitor: HubPages{Listen: "127.0.0.1:8751"}}
}

// ReadHubSettings reads hub.toml strictly.
func ReadHubSettings(dir string) (HubSettings, error) {
	c := DefaultHubSettings()
	path := filepath.Join(dir, HubSettingsName)
	b, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return c, fmt.Errorf("%s: %w", path, err)
	}
	dec := toml.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&c); err != nil {
		return c, tomlFault(path, err)
	}
	return c, c.check(path)
}

func (c HubSettings) check(path string) error {
	if !bench.ValidName(c.Name) {
		return fmt.Errorf("%s: name = %q: want a-z, 0-9 and -, at most 32", path, c.Name)
	}
	if poll, err := time.ParseDuration(c.Poll); err != nil || poll < 100*time.Millisecond || poll > time.Minute {
		return fmt.Errorf("%s: poll = %q: want a duration from \"100ms\" to \"1m\"", path, c.Poll)
	}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		return fmt.Errorf("%s: tls_cert and tls_key go together", path)
	}
	if c.Backup != "" && !filepath.IsAbs(c.Backup) {
		return fmt.Errorf("%s: backup = %q: want the whole path of a folder, best on another disk", path, c.Backup)
	}
	for _, a := range append([]string{c.Listen}, c.Address...) {
		if _, port, err := net.SplitHostPort(a); err != nil || port == "" {
			return fmt.Errorf("%s: %q: want HOST:PORT", path, a)
		}
	}
	return nil
}

func (c HubSettings) poll() time.Duration {
	d, err := time.ParseDuration(c.Poll)
	if err != nil {
		return time.Second
	}
	return d
}

// invited is one bench that may link.
type invited struct {
	Key string    `json:"key"` // public
	At  time.Time `json:"at"`
}

// readInvited reads who was invited, by name.
func readInvited(dir string) (map[string]invited, error) {
	out := map[string]invited{}
	path := filepath.Join(dir, invitedName)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return out, nil
	}
	if err == nil {
		err = json.Unmarshal(b, &out)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return out, nil
}

// Invite makes an invitation of a bench to the hub of a state folder. A key that the bench had before ends with it. key,
// where it is not empty, is a public key that servers of others know the bench by already: then there is no file to carry.
func Invite(dir, benchName string, address []string, key string) (Invitation, error) {
	return InviteAs(dir, benchName, address, key, "")
}

// InviteAs does that where the keeper of others' servers has made the bench's credentials: creds is the file of them, which the
// invitation then carries.
func InviteAs(dir, benchName string, address []string, key, creds string) (Invitation, error) {
	c, err := ReadHubSettings(dir)
	if err != nil {
		return Invitation{}, err
	}
	if !bench.ValidName(benchName) {
		return Invitation{}, fmt.Errorf("bench %q: want a-z, 0-9 and -, at most 32", benchName)
	}
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return Invitation{}, err
	}
	i := Invitation{Hub: c.Name, Bench: benchName, Address: c.addresses(address)}
	if key == "" {
		if err := i.make(dir, c, creds); err != nil {
			return i, err
		}
		if key, err = i.publicKey(); err != nil {
			return i, err
		}
	} else if !nkeys.IsValidPublicUserKey(key) {
		return i, fmt.Errorf("--key %q: want the public nkey of a user, which begins with U", key)
	}
	all, err := readInvited(dir)
	if err != nil {
		return i, err
	}
	all[benchName] = invited{Key: key, At: time.Now().UTC().Truncate(time.Second)}
	b, err := json.MarshalIndent(all, "", "  ")
	if err != nil {
		return i, err
	}
	return i, writeSafely(filepath.Join(dir, invitedName), append(b, '\n'))
}

// addresses are where a bench finds the hub: as asked for, as set, else this machine's name.
func (c HubSettings) addresses(asked []string) []string {
	switch {
	case len(asked) > 0:
		return asked
	case len(c.Address) > 0:
		return c.Address
	}
	host, port, err := net.SplitHostPort(c.Listen)
	if err != nil || host == "" || net.ParseIP(host) != nil && net.ParseIP(host).IsUnspecified() {
		host = hostname()
	}
	return []string{net.JoinHostPort(host, port)}
}

// make gives the invitation its key, and what the bench knows the hub by.
func (i *Invitation) make(dir string, c HubSettings, creds string) error {
	err := i.key(creds)
	switch {
	case err != nil:
		return err
	case len(c.NATS.URL) > 0 && c.NATS.CA != "":
		b, err := os.ReadFile(c.NATS.CA)
		if err != nil {
			return fmt.Errorf("the authority of the cluster: %w", err)
		}
		i.Authority = string(b)
	case len(c.NATS.URL) == 0 && c.TLSCert == "":
		if i.Authority, err = ownAuthority(dir, c.Name); err != nil {
			return err
		}
		i.Server = hubServerName
	}
	_, i.Witness, err = signingKey(dir, hubSigner(c.Name))
	return err
}

// key gives it a key of its own, or the one in a credentials file with what goes with it.
func (i *Invitation) key(creds string) error {
	if creds == "" {
		user, err := nkeys.CreateUser()
		if err != nil {
			return err
		}
		seed, err := user.Seed()
		i.Seed = string(seed)
		return err
	}
	b, err := os.ReadFile(creds)
	if err != nil {
		return err
	}
	if i.JWT, err = nkeys.ParseDecoratedJWT(b); err != nil {
		return fmt.Errorf("%s: %w; is it a file of credentials?", creds, err)
	}
	user, err := nkeys.ParseDecoratedUserNKey(b)
	if err != nil {
		return fmt.Errorf("%s: %w; is it a file of credentials?", creds, err)
	}
	seed, err := user.Seed()
	i.Seed = string(seed)
	return err
}

// hubSigner is how a hub's signature under a note is named.
func hubSigner(name string) string { return "hub-" + name }

// publicKey is what the hub knows the bench by.
func (i Invitation) publicKey() (string, error) {
	pair, err := nkeys.FromSeed([]byte(i.Seed))
	if err != nil {
		return "", err
	}
	return pair.PublicKey()
}

// ClusterUser is what others' servers must know of an invited bench, as their settings have it: its key and its rights. Empty
// where the hub's own server carries the links.
func ClusterUser(dir string, i Invitation) (string, error) {
	c, err := ReadHubSettings(dir)
	if err != nil || len(c.NATS.URL) == 0 {
		return "", err
	}
	if i.JWT != "" {
		return "", nil // its credentials say what it may
	}
	key, err := i.publicKey()
	if err != nil {
		return "", err
	}
	r := bus.LeafRights(i.Bench)
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // a > is a > in subjects
	err = enc.Encode(map[string]any{"nkey": key, "permissions": map[string]any{
		"publish": map[string]any{"allow": r.Publish.Allow}, "subscribe": map[string]any{"allow": r.Subscribe.Allow}}})
	return strings.TrimSpace(b.String()), err
}
