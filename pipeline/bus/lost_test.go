package bus_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/nats-io/nats.go/jetstream"

	"thoud/pipeline"
	"thoud/pipeline/bus"
)

// The stream is lost under a running service: who waits for its next message still ends when it is told to.
func TestAWaitEndsAlthoughTheStreamIsLost(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	e, body := entry(1, 200)
	insist(t, s, e, body)
	f, err := s.Feed(t.Context(), pipeline.Position{}, false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if m, err := f.Next(t.Context()); err != nil || m.Seq != 1 {
		t.Fatalf("message %d, %v", m.Seq, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ended := make(chan error, 1)
	go func() {
		_, err := f.Next(ctx)
		ended <- err
	}()
	js, err := jetstream.New(s.Conn())
	if err != nil {
		t.Fatal(err)
	}
	if err := js.DeleteStream(t.Context(), "thoud-"+benchName); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		t.Fatalf("ended by itself: %v", err)
	case <-time.After(3 * time.Second): // it has met the loss by now
	}
	cancel()
	select {
	case err := <-ended:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("ended with %v", err)
		}
	case <-time.After(15 * time.Second):
		t.Error("told to end fifteen seconds ago, and still waiting")
	}
}
