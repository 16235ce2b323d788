package service

import (
	"os"
	"strings"
	"time"

	"github.com/google/uuid"
)

// NewID makes a UUIDv7: ids sort by time.
func NewID() string {
	id, err := uuid.NewV7()
	if err != nil {
		return uuid.NewString()
	}
	return id.String()
}

// bootID tells one start of the machine from the next; "" where the system does not say, and then no zero outlives a
// restart of the service.
func bootID() string {
	b, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return NewID()
	}
	return strings.TrimSpace(string(b))
}

// ClockOK is false while the clock cannot be right: before this program was written.
func ClockOK() bool { return time.Now().Year() >= 2025 }
