package service

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/pipeline/monitor"
)

// ListenEach is how long identify listens at one setting: a gauge that sends four times a second speaks twice.
const ListenEach = 550 * time.Millisecond

// finder looks for gauges for the monitor. It only listens: nothing is written to a port.
type finder struct{ known *profileList }

var _ monitor.Finder = finder{}

// Ports lists what is plugged in.
func (f finder) Ports(context.Context) ([]monitor.Port, error) {
	found, err := line.SystemPorts().List()
	if err != nil {
		return nil, err
	}
	var out []monitor.Port
	for _, p := range found {
		out = append(out, monitor.Port{Path: p.Path, Known: p.Known, Identity: p.Identity, Adapter: p.Adapter})
	}
	return out, nil
}

// Profiles lists the profiles by name.
func (f finder) Profiles() []string {
	var names []string
	for _, p := range f.known.all() {
		names = append(names, p.Name)
	}
	return names
}

// Identify listens at a port and gives a gauge with the likeliest profile.
func (f finder) Identify(ctx context.Context, path string, progress func(done, total int, words string)) (bench.Gauge, error) {
	found, err := line.SystemPorts().Identify(path)
	if err != nil {
		return bench.Gauge{}, err
	}
	id := line.Identifier{Open: line.OpenSerial, Profiles: f.known.all(), Each: ListenEach, Progress: progress}
	guesses, err := id.Run(ctx, path)
	if err != nil {
		return bench.Gauge{}, err
	}
	if len(guesses) == 0 {
		return bench.Gauge{}, fmt.Errorf("port %s: what it sends fits no profile: teach it below", path)
	}
	p := guesses[0].Profile
	g := bench.Gauge{Port: found.Path, Known: found.Known, Identity: found.Identity, Profile: p.Name, Role: p.Role, Sends: bench.SendsStream, Sense: 1}
	if p.Poll.Polled() {
		g.Sends = bench.SendsPolled
	}
	g.Longest, g.Channel = guesses[0].Longest, onlyChannel(guesses[0].Samples)
	return g, nil
}

// onlyChannel is the channel of all samples, "" where they are of several: which one is meant is not for us to say.
func onlyChannel(samples []devices.Sample) string {
	for _, s := range samples {
		if s.Channel != samples[0].Channel {
			return ""
		}
	}
	if len(samples) == 0 {
		return ""
	}
	return samples[0].Channel
}

// LoadProfiles reads the profiles that ship and those in the folder of the user's own, where there is one.
func LoadProfiles(dir string) (map[string]devices.Profile, error) {
	var own fs.FS
	if _, err := os.Stat(dir); err == nil {
		own = os.DirFS(dir)
	}
	list, err := devices.Profiles(own)
	if err != nil {
		return nil, fmt.Errorf("profiles in %s: %w", dir, err)
	}
	out := map[string]devices.Profile{}
	for _, p := range list {
		out[p.Name] = p
	}
	return out, nil
}
