package line

import (
	"testing"
	"time"

	"thoud/devices"
)

// Every usual setting is heard within ten seconds: each takes its time and, at worst, one read timeout more.
func TestAllUsualSettingsFitIntoTenSeconds(t *testing.T) {
	list, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	const each = 550 * time.Millisecond // what thoud identify uses
	lines := Identifier{Profiles: list}.lines()
	if worst := time.Duration(len(lines)) * (each + ReadTimeout); worst > 10*time.Second {
		t.Errorf("%d settings take %s at worst", len(lines), worst)
	}
}
