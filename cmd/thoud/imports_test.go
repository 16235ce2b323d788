package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// house says which packages of this module, and which modules besides the standard library, each package may import. It
// keeps the pure cores pure and the adapters apart: they meet only in cmd/thoud.
func house() map[string][]string {
	return map[string][]string{
		"thoud/store/disk":           {"golang.org/x/sys"},
		"thoud/calc/plainjson":       {},
		"thoud/calc/quantity":        {"thoud/calc/plainjson"},
		"thoud/calc":                 {"thoud/calc/quantity", "thoud/calc/plainjson", "gonum.org/v1/gonum"},
		"thoud/calc/form":            {"thoud/calc", "thoud/calc/quantity"},
		"thoud/calc/chart":           {"thoud/calc", "thoud/calc/quantity", "golang.org/x/image"},
		"thoud/calc/drawing":         {"thoud/calc/quantity"},
		"thoud/calc/markup":          {},
		"thoud/devices":              {"thoud/calc/quantity", "github.com/pelletier/go-toml/v2"},
		"thoud/devices/bridge":       {}, // only tests import it
		"thoud/devices/simulate":     {"thoud/devices", "thoud/calc/quantity", "github.com/creack/pty", "golang.org/x/sys", "github.com/pelletier/go-toml/v2"},
		"thoud/capture/plan":         {"thoud/calc", "thoud/calc/quantity", "github.com/pelletier/go-toml/v2"},
		"thoud/capture/plan/example": {"thoud/capture/plan"},
		"thoud/capture/bench":        {"thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/calc/plainjson"},
		"thoud/capture/line":         {"thoud/capture/bench", "thoud/devices", "thoud/calc/quantity", "go.bug.st/serial", "github.com/rs/zerolog", "golang.org/x/sys"},
		"thoud/capture":              {"thoud/capture/bench", "thoud/capture/plan", "thoud/capture/line", "thoud/devices", "thoud/calc", "thoud/calc/quantity", "github.com/rs/zerolog"},
		"thoud/pipeline":             {"thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "github.com/rs/zerolog"},
		"thoud/pipeline/bus":         {"thoud/pipeline", "thoud/calc/quantity", "thoud/capture/bench", "github.com/nats-io/nats.go", "github.com/nats-io/nats-server/v2", "github.com/rs/zerolog", "github.com/google/uuid", "golang.org/x/sync", "thoud/store/disk"},
		"thoud/pipeline/hub":         {"thoud/pipeline/bus", "thoud/capture/bench", "github.com/nats-io/nats.go", "github.com/nats-io/nats-server/v2", "github.com/rs/zerolog"},
		"thoud/pipeline/monitor":     {"thoud/calc/markup", "thoud/pipeline/monitor/view", "thoud/calc/drawing", "thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/calc/chart", "github.com/rs/zerolog", "github.com/google/uuid", "golang.org/x/crypto"},
		"thoud/store":                {"thoud/store/disk", "thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "modernc.org/sqlite", "modernc.org/libc", "golang.org/x/sys"},
		"thoud/store/ledgertest":     {"thoud/capture/bench", "modernc.org/sqlite"},
		"thoud/store/sheet":          {"thoud/calc/markup", "thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/calc/chart", "thoud/calc/drawing", "codeberg.org/go-pdf/fpdf", "golang.org/x/image"},
		"thoud/cmd/thoud/demo":       {"thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/devices", "thoud/devices/simulate", "github.com/google/uuid"},
		"thoud/cmd/thoud/guide":      {},
		"thoud/cmd/thoud/service":    {"thoud/cmd/thoud/guide", "thoud/capture", "thoud/capture/line", "thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/devices", "thoud/pipeline", "thoud/pipeline/bus", "thoud/pipeline/hub", "thoud/pipeline/monitor", "thoud/pipeline/monitor/view", "thoud/store", "thoud/store/sheet", "github.com/nats-io/nats.go", "github.com/nats-io/nkeys", "github.com/google/uuid", "github.com/pelletier/go-toml/v2", "github.com/rs/zerolog", "golang.org/x/sync", "golang.org/x/mod", "thoud/store/disk", "rsc.io/qr"},
		"thoud/cmd/thoud":            nil, // wires everything

		"thoud/pipeline/monitor/view": {"thoud/calc/markup", "thoud/capture/bench", "thoud/capture/plan", "thoud/calc", "thoud/calc/quantity", "thoud/calc/chart", "thoud/calc/drawing"},
	}
}

type listed struct {
	ImportPath, Doc string
	Imports         []string
	Standard        bool
}

// packages lists the packages of this module as the go command sees them.
func packages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Doc,Imports", "thoud/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatalf("go list: %v", err)
		}
		all = append(all, p)
	}
}

func TestPackagesImportOnlyWhatTheHouseAllows(t *testing.T) {
	rules := house()
	for _, p := range packages(t) {
		allowed, known := rules[p.ImportPath]
		if !known {
			t.Errorf("%s has no row in the house: add one, or put the code where it belongs", p.ImportPath)
			continue
		}
		if p.ImportPath == "thoud/cmd/thoud" {
			continue
		}
		for _, imp := range p.Imports {
			first, _, _ := strings.Cut(imp, "/")
			own := first == "thoud"
			if !own && !strings.Contains(first, ".") {
				continue // standard library
			}
			ok := slices.ContainsFunc(allowed, func(a string) bool {
				return imp == a || !own && strings.HasPrefix(imp, a+"/")
			})
			if !ok {
				t.Errorf("%s imports %s, which the house does not allow", p.ImportPath, imp)
			}
		}
	}
}

func TestEveryPackageSaysWhatItIsFor(t *testing.T) {
	for _, p := range packages(t) {
		if len(p.Doc) < 40 {
			t.Errorf("%s has no package comment that says what it does and refuses", p.ImportPath)
		}
	}
}
