package bench

import "thoud/calc/quantity"

// Live is the newest value of a gauge: shown, never stored.
type Live struct {
	Gauge  string          `json:"gauge"`
	At     int64           `json:"at"` // µs since 1970
	Raw    quantity.Value  `json:"raw"`
	Value  *quantity.Value `json:"value,omitempty"` // against the zero in force; nil where there is none
	Status string          `json:"status,omitempty"`
	Open   bool            `json:"open"`
	Fault  string          `json:"fault,omitempty"` // the last thing that went wrong on its line
	Still  bool            `json:"still,omitempty"`
	// Noise is how many frames were spoilt on their way since the line was opened.
	Noise int `json:"noise,omitempty"`
	// Sweep is set while a sweep runs: how many samples it has.
	Sweep int `json:"sweep,omitempty"`
	// Hand is what the hand does now, where the gauge is watched while a wheel is read by eye.
	Hand string `json:"hand,omitempty"`
}

// Notice is what the bench tells at once, outside the ledger: a tone to play, a trouble on the screen.
type Notice struct {
	At    int64  `json:"at"`
	Tone  string `json:"tone,omitempty"` // taken, zero, ask, fault
	Words string `json:"words,omitempty"`
	// Trouble stands until it is taken back with an empty one of the same Source ("bus", "disk", "gauge dial-1").
	Source string `json:"source,omitempty"`
	Stands bool   `json:"stands,omitempty"`
}
