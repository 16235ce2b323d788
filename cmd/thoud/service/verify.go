package service

import (
	"sync"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
	"thoud/pipeline"
	"thoud/store"
)

// Check is how a ledger is verified: bound again by the recorder's own rules, frames decoded again by the sealed
// profiles.
func Check() store.Check {
	return store.Check{
		Bind: func(after bench.State, e bench.Entry, inForce bench.Results, answer func(bench.Result) calc.Result) []bench.Result {
			return pipeline.ComputeWith(after, e, inForce, answer)
		},
		Values: newSealedProfiles().values,
		Own:    bench.RulesNow(Version()),
	}
}

// sealedProfiles keeps the profiles that one verification met last: every reading of a gauge speaks of the same one.
type sealedProfiles struct {
	mu    sync.Mutex
	known map[string]devices.Profile
}

// profilesKept is how many: more than there are gauges on a bench.
const profilesKept = 64

func newSealedProfiles() *sealedProfiles {
	return &sealedProfiles{known: map[string]devices.Profile{}}
}

func (s *sealedProfiles) profile(text string) (devices.Profile, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	p, ok := s.known[text]
	if ok {
		return p, nil
	}
	p, err := devices.ParseProfile("sealed", []byte(text))
	if err == nil {
		if len(s.known) >= profilesKept {
			clear(s.known)
		}
		s.known[text] = p
	}
	return p, err
}

// values decodes bytes by a profile's text.
func (s *sealedProfiles) values(text, channel string, frames [][]byte) ([]quantity.Value, error) {
	p, err := s.profile(text)
	if err != nil {
		return nil, err
	}
	d, err := p.NewDecoder()
	if err != nil {
		return nil, err
	}
	var out []quantity.Value
	first := true
	take := func(s devices.Sample, err error) {
		if err != nil || !s.Value.Valid() {
			return
		}
		if first && channel == "" {
			channel = s.Channel
		}
		first = false
		if s.Channel == channel {
			out = append(out, s.Value)
		}
	}
	d.Idle(take)
	for _, frame := range frames {
		d.Feed(frame, take)
	}
	d.Idle(take)
	return out, nil
}
