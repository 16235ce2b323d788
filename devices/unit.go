package devices

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
