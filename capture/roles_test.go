package capture_test

import (
	"testing"

	"thoud/capture/plan"
	"thoud/devices"
)

// What a profile may suggest is a role that plans know.
func TestProfilesSuggestRolesOfTheTable(t *testing.T) {
	for _, name := range devices.Roles() {
		if err := plan.CheckRole(name); err != nil {
			t.Errorf("devices/profile.go: Roles: %v; capture/plan/roles.go has the table", err)
		}
	}
}
