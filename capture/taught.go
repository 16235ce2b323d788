package capture

import (
	"maps"

	"thoud/devices"
)

// taught takes a profile that was learnt while the bench runs: a gauge that speaks so may be registered at once. The maps are
// made anew: others look at the old ones meanwhile.
func taught(l *Loop, p devices.Profile) {
	profiles, manners := maps.Clone(l.Profiles), maps.Clone(l.held.manners)
	profiles[p.Name], manners[p.Name] = p, mannersOf(p)
	l.Profiles, l.held.manners = profiles, manners
	l.shared.Store(l.held.copied())
}
