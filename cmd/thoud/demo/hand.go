package demo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices/simulate"
)

// Hand is a gauge in the builder's hand.
type Hand struct {
	Spec
	*simulate.Gauge // nil for one without a line
	Errs            *Errs

	res, rest quantity.Value
	every     time.Duration // between two frames of one that pushes
	stands    float64       // where it was last put, against its datum
}

func newHand(s Spec, seed uint64) (*Hand, error) {
	h := &Hand{Spec: s}
	var err error
	if h.res, err = quantity.Parse(s.Resolution); err != nil {
		return nil, fmt.Errorf("demo: gauge %s: %w", s.Name, err)
	}
	if s.Rest != "" {
		if h.rest, err = quantity.Parse(s.Rest); err != nil {
			return nil, fmt.Errorf("demo: gauge %s: %w", s.Name, err)
		}
	}
	h.Errs, err = NewErrs(s, rand.New(rand.NewPCG(seed, 11)))
	return h, err
}

// shown is what the gauge would show, finer than it can, where it reads x more than on its datum before any zero.
func (h *Hand) shown(x float64) quantity.Value {
	return fine(h.res, x+h.rest.Float())
}

// fine writes a number in base units as a value of a unit, to a thousandth of a count.
func fine(count quantity.Value, x float64) quantity.Value {
	if count.Kind() == quantity.Length {
		return quantity.OfLength(int64(math.Round(x*quantity.PerMillimetre)), count.Unit, count.Places)
	}
	places := count.Places + 3
	return quantity.Value{N: int64(math.Round(count.Unit.FromBase(x) * math.Pow10(places))), Places: places, Unit: count.Unit}
}

// counted writes a number as a display of this count shows it.
func counted(count quantity.Value, x float64) quantity.Value {
	n := int64(math.Round(x / count.Float()))
	v := count
	v.N = n * count.N
	return v
}

// put puts the gauge where it reads x more than on its datum, and waits until thoud has heard what it shows there. One
// frame is known to be understood once the next one has been read: a line reads again only when it is done with what it
// read.
func (h *Hand) put(ctx context.Context, x float64) error {
	h.stands = x
	h.Set(h.shown(x))
	switch h.Sends {
	case bench.SendsKey:
		return nil // heard when its key is pressed
	case bench.SendsPolled:
		from := h.Sent()
		if err := h.until(ctx, func() (bool, error) { return h.Sent() > from+1, nil }); err != nil {
			return err
		}
		return h.heard(ctx)
	}
	for range 2 {
		if err := errors.Join(h.Send(), h.heard(ctx)); err != nil {
			return err
		}
	}
	return nil
}

// heard waits until every byte was read.
func (h *Hand) heard(ctx context.Context) error {
	return h.until(ctx, func() (bool, error) {
		n, err := h.Unread()
		return n == 0, err
	})
}

func (h *Hand) until(ctx context.Context, done func() (bool, error)) error {
	for end := time.Now().Add(patience); ctx.Err() == nil; {
		ok, err := done()
		if ok || err != nil {
			return err
		}
		if time.Now().After(end) {
			return fmt.Errorf("demo: thoud does not listen to %s", h.Name)
		}
		time.Sleep(100 * time.Microsecond)
	}
	return ctx.Err()
}

// hush stops a gauge that pushes, so that it speaks only when the hand wants it to; speak lets it push again.
func (h *Hand) hush() { h.Stop() }

func (h *Hand) speak() {
	if h.every > 0 {
		h.Stream(h.every)
	}
}
