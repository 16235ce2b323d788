package devices

import (
	"maps"
	"slices"
	"sort"
)

// Channels lists the channels that the profile names, in the order of one frame where the order is fixed; empty for a
// gauge of one channel, and for one whose channels the profile leaves open.
func (p Profile) Channels() []string {
	f, ok := p.family()
	if !ok {
		return nil
	}
	list, ordered := f.channels(p)
	list = slices.Clone(list)
	if !ordered {
		sort.Strings(list)
		list = slices.Compact(list)
	}
	return list
}

func textChannels(p Profile) (names []string, ordered bool) {
	if len(p.Text.Channels) > 0 {
		return p.Text.Channels, true
	}
	for _, c := range p.Text.Channel {
		names = append(names, c)
	}
	return names, false
}

func bitsChannels(p Profile) (names []string, ordered bool) {
	if p.Bits.Chan != nil {
		for _, c := range p.Bits.Chan.Values {
			names = append(names, c)
		}
	}
	return names, false
}

func modbusChannels(p Profile) (names []string, ordered bool) {
	for _, v := range p.Modbus.Values {
		if v.Channel != "" {
			names = append(names, v.Channel)
		}
	}
	return names, true
}

func benchChannels(p Profile) (names []string, ordered bool) {
	if len(p.Bench.Channels) > 0 {
		return p.Bench.Channels, true
	}
	return slices.Collect(maps.Keys(p.Bench.Bits)), false
}
