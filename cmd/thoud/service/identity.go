package service

import (
	"os"
	"strconv"
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

// upTime is how long the machine has been on, sleep included, in µs; 0 where the system does not say. Nobody sets this clock,
// so that what cures is not done early because the other one was set right.
func upTime() int64 {
	b, err := os.ReadFile("/proc/uptime")
	if err != nil {
		return 0
	}
	first, _, _ := strings.Cut(string(b), " ")
	seconds, err := strconv.ParseFloat(first, 64)
	if err != nil {
		return 0
	}
	return int64(seconds * 1e6)
}

// ClockOK is false while the clock cannot be right: before this program was written.
func ClockOK() bool { return time.Now().Year() >= 2025 }
