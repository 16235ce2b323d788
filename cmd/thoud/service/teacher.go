package service

import (
	"context"
	"errors"
	"fmt"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/pipeline/monitor"
)

// teacher learns from the pages how a gauge speaks that no profile fits. It only listens to the port.
type teacher struct {
	dir   string // of the user's own profiles
	known *profileList
}

var _ monitor.Teacher = teacher{}

const (
	// standstill is how long a gauge that streams is listened to: one that sends twice a second brings whole frames.
	standstill = 1500 * time.Millisecond
	// pressWait is how long a press of the data key is waited for.
	pressWait = 45 * time.Second
)

func lineOf(at monitor.TaughtLine) devices.Line {
	return devices.Line{Baud: at.Baud, DataBits: at.Bits, Parity: at.Parity, StopBits: at.Stop}
}

// Begin listens for a moment: does the gauge send by itself?
func (t teacher) Begin(ctx context.Context, at monitor.TaughtLine) (monitor.TeachPlan, error) {
	port, _, err := line.OpenSerial(at.Port, lineOf(at))
	if err != nil {
		return monitor.TeachPlan{}, err
	}
	defer port.Close()
	b, _, err := line.Standstill(ctx, port, standstill)
	if err != nil {
		return monitor.TeachPlan{}, err
	}
	p := monitor.TeachPlan{Streams: len(b) > 0}
	p.Asks, p.Least = devices.Asks(len(devices.RawChannels(b)) > 0)
	p.Asks = append(p.Asks, devices.AskProof)
	return p, nil
}

// Hear takes one press of the data key, or listens to a gauge that sends by itself.
func (t teacher) Hear(ctx context.Context, at monitor.TaughtLine, streams bool) (monitor.Heard, error) {
	port, _, err := line.OpenSerial(at.Port, lineOf(at))
	if err != nil {
		return monitor.Heard{}, err
	}
	defer port.Close()
	var h monitor.Heard
	if streams {
		h.Bytes, h.Pauses, err = line.Standstill(ctx, port, standstill)
	} else {
		wait, cancel := context.WithTimeout(ctx, pressWait)
		defer cancel()
		h.Bytes, err = line.PressedOnce(wait, port)
		if errors.Is(err, context.DeadlineExceeded) {
			err = fmt.Errorf("no press came within %s", pressWait)
		}
	}
	switch {
	case err != nil:
		return monitor.Heard{}, err
	case len(h.Bytes) == 0:
		return monitor.Heard{}, errors.New("nothing was sent: is it switched on?")
	}
	h.Words = fmt.Sprintf("%d bytes: %q", len(h.Bytes), h.Bytes[:min(len(h.Bytes), 60)])
	return h, nil
}

// Learn works a profile out of the presses, the last of which proves it, keeps it, and tells the bench.
func (t teacher) Learn(_ context.Context, l monitor.Lesson) (monitor.Taught, error) {
	if t.known.has(l.Name) {
		return monitor.Taught{}, fmt.Errorf("there is a profile %q already: take another name", l.Name)
	}
	var presses []devices.Press
	for i, p := range l.Presses {
		v, err := quantity.Parse(p.Shown)
		if err != nil {
			return monitor.Taught{}, fmt.Errorf("value %d, %q: %w", i+1, p.Shown, err)
		}
		presses = append(presses, devices.Press{Shown: v, Bytes: p.Bytes, Pauses: p.Pauses})
	}
	if len(presses) < 2 {
		return monitor.Taught{}, errors.New("too few values to learn from")
	}
	lesson, err := devices.Teach(devices.Profile{Name: l.Name, Title: "a gauge taught at the bench", Line: lineOf(l.At)}, l.Streams, presses[:len(presses)-1])
	if err != nil {
		return monitor.Taught{}, err
	}
	if lesson, err = lesson.Prove(presses[len(presses)-1]); err != nil {
		return monitor.Taught{}, fmt.Errorf("the last value does not prove it, so nothing is kept: %w", err)
	}
	p := lesson.Profile()
	if _, err := KeepProfile(t.dir, p); err != nil {
		return monitor.Taught{}, err
	}
	t.known.add(p)
	return monitor.Taught{Profile: p.Name, Channel: lesson.Channel(), Unit: p.UnnamedUnit(lesson.Channel()), Open: lesson.Ambiguous()}, nil
}
