package devices

import (
	"slices"
	"sort"
)

// Channels lists the channels that the profile names, in the order of one frame where the order is fixed; empty for a
// gauge of one channel, and for one whose channels the profile leaves open.
func (p Profile) Channels() []string {
	var list []string
	switch {
	case p.Text != nil && len(p.Text.Channels) > 0:
		return slices.Clone(p.Text.Channels)
	case p.Text != nil:
		for _, c := range p.Text.Channel {
			list = append(list, c)
		}
	case p.Bits != nil && p.Bits.Chan != nil:
		for _, c := range p.Bits.Chan.Values {
			list = append(list, c)
		}
	case p.Modbus != nil:
		for _, v := range p.Modbus.Values {
			if v.Channel != "" {
				list = append(list, v.Channel)
			}
		}
		return list
	case p.Bench != nil:
		return slices.Clone(p.Bench.Channels)
	}
	sort.Strings(list)
	return slices.Compact(list)
}

// Together reports whether one frame brings the readings of several channels.
func (p Profile) Together() bool {
	return p.Text != nil && p.Text.Separator != "" || p.Modbus != nil && len(p.Modbus.Values) > 1
}
