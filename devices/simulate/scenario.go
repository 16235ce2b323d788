package simulate

import (
	"time"

	"thoud/calc/quantity"
)

// Scenario is a script of gauges and of what happens to them, so that a demonstration and the tests share it. As a file:
//
//	title = "two presses and a plug that comes out"
//	seed = 7
//
//	[[gauge]]
//	name = "dial-1"
//	profile = "text-signed-decimal-cr"
//	start = "0.000 mm"
//	noise = 0.4            # the knobs of Knobs, in small letters
//
//	[[gauge]]
//	name = "lift"
//	profile = "text-signed-decimal-unit-crlf"
//	follows = "dial-1"     # see Follow; what follows a follower stays where it is
//	curve = [[0, 0], [10, 0.1]]
//
//	[[step]]               # one action a step; after waits before it
//	gauge = "dial-1"
//	set = "1.250 mm"
//
//	[[step]]
//	gauge = "dial-1"
//	send = 2               # presses of the data key
//	after = "500ms"
type Scenario struct {
	Title  string
	Seed   uint64
	Gauges []ScenarioGauge
	Steps  []Step
}

// ScenarioGauge is one gauge of a scenario.
type ScenarioGauge struct {
	Name, Profile string
	Channel       string
	Channels      []string
	Resolution    quantity.Value
	Start         quantity.Value // where it stands at first; not Valid for 0
	Stream        time.Duration  // 0: it does not push
	Follows       Follow         // no Leader: it follows nobody
	Knobs         Knobs
}

// Step is one thing that happens. Exactly one action is set; a step without one only waits.
type Step struct {
	Gauge   string
	Channel string        // for Set and Move, "" for the first
	After   time.Duration // wait before it
	Note    string        // for people

	Set        quantity.Value // move the gauge at once
	Move       quantity.Value // move it evenly over Over
	Over       time.Duration
	Send       int    // press the data key so often
	Key        string // a pedal or key
	Raw        []byte // bytes as they are: raw = "text" or bytes = [0x88, 0x00]
	Status     string // what it says about itself from now on, "none" for nothing
	Stream     time.Duration
	Stop       bool
	Unplug     bool
	Replug     bool
	As         string // with Replug: the name it comes back under
	PowerCycle bool
	LostZero   bool // with PowerCycle
}
