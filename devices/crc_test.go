package devices

import "testing"

// The check values of "123456789" in the public catalogue of CRC algorithms: CRC-16/MODBUS 0x4B37, CRC-8/SMBUS 0xF4.
func TestCheckValues(t *testing.T) {
	if got := crc16([]byte("123456789")); got != 0x4B37 {
		t.Errorf("CRC-16/MODBUS %04X, want 4B37", got)
	}
	if got := crc8([]byte("123456789")); got != 0xF4 {
		t.Errorf("CRC-8/SMBUS %02X, want F4", got)
	}
}
