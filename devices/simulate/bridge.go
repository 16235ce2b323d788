package simulate

import (
	"fmt"

	"thoud/devices"
)

// Gone lets a bridge say that the gauge of a channel was pulled off, or, without a channel, that the bridge itself has
// started. It fails where the profile is no bench line.
func (g *Gauge) Gone(channel string) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.o.Profile.SendsKeys() {
		return fmt.Errorf("simulate %q: a gauge of the family %s is no bridge", g.o.Name, g.o.Profile.Family)
	}
	b, err := g.o.Profile.Encode(devices.Sample{Gone: true, Channel: channel})
	if err != nil {
		return fmt.Errorf("simulate %q: %w", g.o.Name, err)
	}
	return g.faulty(b)
}
