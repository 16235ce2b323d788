package line

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// ErrNoSilence is what a press of a data key ends with where the line does not fall silent after it.
var ErrNoSilence = errors.New("the line does not fall silent")

const (
	// pressTime is how long one press may go on sending.
	pressTime = 5 * time.Second
	// pauseTime is a silence between two frames of a gauge that streams. Adapters hand bytes on up to 16 ms late, which
	// must not be taken for one.
	pauseTime = 40 * time.Millisecond
	// staleTime is how long what waited in the port from before is thrown away.
	staleTime = 150 * time.Millisecond
)

// PressedOnce waits for one press of a data key: it records from the first byte to the silence after it. It fails with
// ErrNoSilence where the gauge goes on sending.
func PressedOnce(ctx context.Context, port Port) ([]byte, error) {
	var out []byte
	var began time.Time
	buf := make([]byte, 4096)
	for ctx.Err() == nil {
		n, err := port.Read(buf)
		if err != nil {
			return nil, fmt.Errorf("%w (%w)", ErrGone, err)
		}
		if n > 0 && len(out) == 0 {
			began = time.Now()
		}
		out = append(out, buf[:n]...)
		switch {
		case n == 0 && len(out) > 0:
			return out, nil
		case n > 0 && time.Since(began) > pressTime:
			return nil, fmt.Errorf("%w: %d bytes in %s: does the gauge send by itself? then begin again while it is switched on", ErrNoSilence, len(out), pressTime)
		}
	}
	return nil, ctx.Err()
}

// Standstill records what comes within a time, with the pauses as devices.Press has them: of a gauge that streams while its
// display stands still. What was sent before is thrown away. No bytes are no error.
func Standstill(ctx context.Context, port Port, d time.Duration) (b []byte, pauses []int, err error) {
	if err := drain(ctx, port); err != nil {
		return nil, nil, err
	}
	buf := make([]byte, 4096)
	last := time.Now()
	for end := last.Add(d); time.Now().Before(end) && ctx.Err() == nil; {
		n, err := port.Read(buf)
		if err != nil {
			return nil, nil, fmt.Errorf("%w (%w)", ErrGone, err)
		}
		now := time.Now()
		if n == 0 {
			continue
		}
		if now.Sub(last) >= pauseTime && len(b) > 0 {
			pauses = append(pauses, len(b))
		}
		b, last = append(b, buf[:n]...), now
	}
	return b, pauses, ctx.Err()
}

// drain throws away what waits in the port: until a read has to wait for a byte, or, of a gauge that sends without a
// pause, for a while.
func drain(ctx context.Context, port Port) error {
	buf := make([]byte, 4096)
	began := time.Now()
	for ctx.Err() == nil {
		asked := time.Now()
		if _, err := port.Read(buf); err != nil {
			return fmt.Errorf("%w (%w)", ErrGone, err)
		}
		now := time.Now()
		if waited := now.Sub(asked) >= staleTime/10; now.Sub(began) >= staleTime && (waited || now.Sub(began) >= 5*staleTime) {
			return nil
		}
	}
	return ctx.Err()
}
