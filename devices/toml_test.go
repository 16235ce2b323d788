package devices_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"thoud/devices"
)

func TestTOMLRoundTrip(t *testing.T) {
	for name, p := range mustProfiles(t) {
		again, err := devices.ParseProfile(name+".toml", p.TOML())
		if err != nil {
			t.Errorf("%v in\n%s", err, p.TOML())
			continue
		}
		if diff := cmp.Diff(p, again, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// A request of bytes that are no text is written as numbers.
func TestTOMLRequestBytes(t *testing.T) {
	p, err := devices.ParseProfile("x.toml", []byte(good+"[poll]\nrequest_bytes = [0x80, 0x05]\ninterval = \"1s\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	if string(p.Poll.Request) != "\x80\x05" {
		t.Errorf("request %q", p.Poll.Request)
	}
	again, err := devices.ParseProfile("y.toml", p.TOML())
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(p, again, cmpopts.EquateEmpty()); diff != "" {
		t.Error(diff)
	}
}
