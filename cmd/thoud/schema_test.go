package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"thoud/capture/bench"
	"thoud/cmd/thoud/demo"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/store"
)

// compiled are the schemas of all messages, read by a library that knows nothing of this program.
func compiled(t *testing.T) map[string]*jsonschema.Schema {
	t.Helper()
	out := map[string]*jsonschema.Schema{}
	for _, m := range bus.Messages() {
		b, err := bus.Schema(m.Name)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		c := jsonschema.NewCompiler()
		if err := c.AddResource(m.Name+".json", doc); err != nil {
			t.Fatal(err)
		}
		if out[m.Name], err = c.Compile(m.Name + ".json"); err != nil {
			t.Fatalf("the schema of %s is none: %v", m.Name, err)
		}
	}
	return out
}

// checker holds messages against their schemas and counts them.
type checker struct {
	t       *testing.T
	schemas map[string]*jsonschema.Schema
	mu      sync.Mutex
	seen    map[string]int
	told    map[string]bool
}

func (c *checker) check(name string, body []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.seen[name]++
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err == nil {
		err = c.schemas[name].Validate(v)
	}
	if err != nil && !c.told[name] {
		c.told[name] = true
		c.t.Errorf("a %s does not keep to its schema: %.1500v\n%.400s", name, err, body)
	}
}

type socketDialer struct{ path string }

func (d socketDialer) Dial(string, string) (net.Conn, error) { return net.Dial("unix", d.path) }

// A build is played, and everything that goes over the bus meanwhile is held against the schemas; so are the entries of
// an older program.
func TestMessagesKeepToTheirSchemas(t *testing.T) {
	c := &checker{t: t, schemas: compiled(t), seen: map[string]int{}, told: map[string]bool{}}
	dir := t.TempDir()
	listening := false
	o := demoOptions{fast: true, exit: true, dir: dir, plan: "first-fit", seed: 3, watch: func(*demo.Builder) {
		listening = true
		name := strings.Repeat("s", 24)
		nc, err := nats.Connect("nats://socket", nats.SetCustomDialer(socketDialer{filepath.Join(dir, service.SocketName)}), nats.SkipHostLookup(),
			nats.UserInfo(name, ""), nats.CustomInboxPrefix("_INBOX_"+name))
		if err != nil {
			t.Error(err)
			return
		}
		t.Cleanup(nc.Close)
		for subject, kind := range map[string]string{bus.AllResults("demo"): "result", bus.AllLive("demo"): "live", bus.NoticeSubject("demo"): "notice"} {
			if _, err := nc.Subscribe(subject, func(m *nats.Msg) { c.check(kind, m.Data) }); err != nil {
				t.Error(err)
			}
		}
		go func() { // asked while the build goes on, as the page and commands do
			for !nc.IsClosed() {
				if m, err := nc.Request(bus.AskSubject("demo", "status"), nil, 2*time.Second); err == nil {
					c.check("status", m.Data)
				}
				v := bench.Verb{ID: service.NewID(), Name: bench.DoGoto, Place: &bench.Place{Step: "no-such-step"}}
				body, err := json.Marshal(v)
				if err != nil {
					t.Error(err)
				}
				c.check("verb", body)
				if m, err := nc.Request(bus.VerbSubject("demo", v.Name), body, 2*time.Second); err == nil {
					c.check("answer", m.Data)
				}
				time.Sleep(50 * time.Millisecond)
			}
		}()
	}}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	if err := o.run(ctx, io.Discard); err != nil {
		t.Fatal(err)
	}
	if !listening {
		t.Fatal("nobody listened")
	}
	for _, state := range []string{dir, unpackLedger(t, "first-round")} {
		s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName))
		if err != nil {
			t.Fatal(err)
		}
		if err := s.EachEntry(t.Context(), "demo", store.Filter{}, func(r store.EntryRow) bool { c.check("entry", r.Body); return true }); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for name := range c.schemas {
		if c.seen[name] == 0 {
			t.Errorf("no %s was seen", name)
		}
	}
	t.Logf("messages held against their schemas: %v", c.seen)
}

// A schema finds what is not as it should be.
func TestSchemasFindDamage(t *testing.T) {
	schemas := compiled(t)
	for name, body := range map[string]string{
		"live": `{"gauge":"dial-1","at":"yesterday","raw":null,"open":true}`, "answer": `{"ok":true,"words":"x","place":{},"more":1}`,
		"verb": `{"name":"take"}`, "entry": `{"v":1}`, "notice": `[]`,
	} {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(body))
		if err != nil {
			t.Fatal(err)
		}
		if schemas[name].Validate(v) == nil {
			t.Errorf("%s: %s keeps to the schema", name, body)
		}
	}
}
