package devices

import (
	"fmt"

	"thoud/calc/quantity"
)

// UnnamedUnit is the unit that the profile takes for the numbers of a channel whose frames do not name it; "" where they
// do. Such a number is only as right as the profile: a gauge whose unit key was pressed sends the same frames.
func (p Profile) UnnamedUnit(channel string) string {
	f, ok := p.family()
	if !ok {
		return ""
	}
	return f.unnamed(p, channel)
}

func textUnnamed(p Profile, _ string) string {
	c, err := p.compileText()
	if err != nil {
		return ""
	}
	for _, pattern := range c.(*textCodec).patterns {
		if pattern.number != nil && (pattern.unit == nil || pattern.unit.missing) {
			return p.Text.Unit
		}
	}
	return ""
}

func bitsUnnamed(p Profile, _ string) string { return p.Bits.unnamed() }

func (b *Bits) unnamed() string {
	if b.Unit != nil {
		return ""
	}
	return b.DefaultUnit
}

func modbusUnnamed(p Profile, channel string) string {
	for _, v := range p.Modbus.Values {
		if v.Channel == channel {
			return v.Unit
		}
	}
	return ""
}

// benchUnnamed: readings name their unit, raw bits may.
func benchUnnamed(p Profile, channel string) string {
	f, ok := p.Bench.Bits[channel]
	if !ok {
		return ""
	}
	return f.Bits.unnamed()
}

// InUnit takes the number of a sample for one in the unit that the gauge's display shows, where its frame names none: the
// same figures. A code of "" leaves the profile's unit. It fails where the figures cannot be in that unit.
func (s *Sample) InUnit(code string) error {
	if code == "" || !s.Unnamed || !s.Value.Valid() || s.Value.Unit.Code == code {
		return nil
	}
	v, err := quantity.Parse(s.Value.Digits() + " " + code)
	if err != nil {
		return fmt.Errorf("%s cannot be in %s, as it was registered: %w", s.Value, code, err)
	}
	s.Value = v
	return nil
}

// Reread gives the value that one frame carries on a channel, as it was read when it came: the way back from kept bytes to
// a reading. channel is "" for a gauge without one, unit what its display shows where its frames name none. It fails where
// the frame carries no value there.
func (p Profile) Reread(frame []byte, channel, unit string) (quantity.Value, error) {
	d, err := p.NewDecoder()
	if err != nil {
		return quantity.Value{}, err
	}
	var v quantity.Value
	var fault error
	emit := func(s Sample, err error) {
		switch {
		case err != nil:
			fault = err
		case !s.Value.Valid() || channel != "" && s.Channel != "" && s.Channel != channel:
		case s.InUnit(unit) == nil && !v.Valid():
			v = s.Value
		}
	}
	d.Idle(emit)
	d.Feed(frame, emit)
	d.Idle(emit)
	if v.Valid() {
		return v, nil
	}
	if fault == nil {
		fault = fmt.Errorf("frame %s carries no value", quoteBytes(frame))
	}
	return v, fmt.Errorf("profile %q: %w", p.Name, fault)
}
