package devices

import "math/bits"

// get reads a field; the frame's order says which of its bits comes first.
func (c *bitsCodec) get(frame []byte, at, n int) uint64 {
	var v uint64
	for i := range n {
		bit := uint64(0)
		if frame[(at+i)/8]&c.bitMask(at+i) != 0 {
			bit = 1
		}
		if c.b.Order == "high" {
			v = v<<1 | bit
		} else {
			v |= bit << i
		}
	}
	return v
}

func (c *bitsCodec) put(frame []byte, at, n int, v uint64) {
	if c.b.Order == "high" {
		v = bits.Reverse64(v) >> (64 - n)
	}
	for i := range n {
		frame[(at+i)/8] &^= c.bitMask(at + i)
		if v>>i&1 == 1 {
			frame[(at+i)/8] |= c.bitMask(at + i)
		}
	}
}

// checkSum computes the frame's check sum as it lies in its field.
func (c *bitsCodec) checkSum(frame []byte) uint64 {
	k := c.b.Check
	part := frame[k.From:k.To]
	var sum uint64
	switch k.Kind {
	case "sum8":
		for _, b := range part {
			sum += uint64(b)
		}
		return sum & 0xFF
	case "xor8":
		for _, b := range part {
			sum ^= uint64(b)
		}
		return sum
	case "sum4":
		for _, b := range part {
			sum += uint64(b>>4) + uint64(b&15)
		}
		return sum & 15
	case "crc8":
		return uint64(crc8(part))
	}
	return uint64(crc16(part))
}

// checkRead reads the check sum that the frame brings.
func (c *bitsCodec) checkRead(frame []byte) uint64 {
	k := c.b.Check
	if k.Kind == "crc16" {
		return uint64(frame[k.At/8]) | uint64(frame[k.At/8+1])<<8
	}
	return c.get(frame, k.At, checkBits[k.Kind])
}

func (c *bitsCodec) checkWrite(frame []byte) {
	k := c.b.Check
	sum := c.checkSum(frame)
	if k.Kind == "crc16" {
		frame[k.At/8], frame[k.At/8+1] = byte(sum), byte(sum>>8)
		return
	}
	c.put(frame, k.At, checkBits[k.Kind], sum)
}
