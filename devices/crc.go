package devices

// crc16 is CRC-16/MODBUS of the public CRC catalogue: width 16, polynomial 0x8005 reflected, initial 0xFFFF, no final
// turn-over, check value 0x4B37 (MODBUS over Serial Line 1.02, 6.2.2).
func crc16(b []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, c := range b {
		crc ^= uint16(c)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// crc8 is CRC-8/SMBUS of the public CRC catalogue: width 8, polynomial 0x07, initial 0, not reflected, check value 0xF4.
func crc8(b []byte) byte {
	crc := byte(0)
	for _, c := range b {
		crc ^= c
		for range 8 {
			if crc&0x80 != 0 {
				crc = crc<<1 ^ 0x07
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}
