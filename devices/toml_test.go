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
