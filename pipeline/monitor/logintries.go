package monitor

import (
	"net"
	"time"
)

// How often a wrong code may be given. Only failures count, and only time takes them away: who may look could else guess
// the code to work without end, by logging in between.
const (
	triesAllowed = 5  // from one address, or one IPv6 network
	triesInAll   = 30 // from all together
	triesWindow  = 5 * time.Minute
)

// tries counts wrong codes. It is not safe for concurrent use.
type tries struct {
	failed map[string][]time.Time // by network
	all    []time.Time
}

// network is what failures are counted by: an IPv4 address, or the /64 of an IPv6 address, because one machine has as
// many addresses of its own network as it likes.
func network(remote string) string {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		host = remote
	}
	ip := net.ParseIP(host)
	if ip == nil || ip.To4() != nil {
		return host
	}
	return ip.Mask(net.CIDRMask(64, 128)).String() + "/64"
}

// mayTry reports whether another code may be tried from a network.
func (t *tries) mayTry(from string, now time.Time) bool {
	t.forget(now.Add(-triesWindow))
	return len(t.failed[from]) < triesAllowed && len(t.all) < triesInAll
}

// fail counts a wrong code.
func (t *tries) fail(from string, now time.Time) {
	if t.failed == nil {
		t.failed = map[string][]time.Time{}
	}
	t.failed[from] = append(t.failed[from], now)
	t.all = append(t.all, now)
}

// forget lets failures go that are older than a time.
func (t *tries) forget(before time.Time) {
	young := func(list []time.Time) []time.Time {
		for len(list) > 0 && !list[0].After(before) {
			list = list[1:]
		}
		return list
	}
	t.all = young(t.all)
	for from, list := range t.failed {
		if list = young(list); len(list) == 0 {
			delete(t.failed, from)
		} else {
			t.failed[from] = list
		}
	}
}
