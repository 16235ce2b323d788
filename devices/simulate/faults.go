package simulate

// faulty sends a frame through the line's faults.
func (g *Gauge) faulty(b []byte) error {
	k := g.o.Knobs
	hit := func(p float64) bool { return p > 0 && g.chance.Float64() < p }
	if hit(k.Drop) {
		return nil
	}
	if hit(k.Corrupt) {
		b = append([]byte(nil), b...)
		b[g.chance.IntN(len(b))] ^= 1 << g.chance.IntN(8)
	}
	if hit(k.Garbage) {
		junk := make([]byte, 1+g.chance.IntN(12))
		for i := range junk {
			junk[i] = byte(g.chance.IntN(256))
		}
		b = append(junk, b...)
	}
	if hit(k.Merge) && len(g.held) == 0 {
		g.held = append([]byte(nil), b...)
		return nil
	}
	b = append(g.held, b...)
	g.held = nil
	if len(b) > 1 && hit(k.Split) {
		cut := 1 + g.chance.IntN(len(b)-1)
		if err := g.write(b[:cut]); err != nil {
			return err
		}
		b = b[cut:]
	}
	return g.write(b)
}
