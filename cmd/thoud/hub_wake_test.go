package main

import (
	"fmt"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
)

// A hub is woken by what a bench tells, long before it would ask by itself.
func TestAHubIsWokenByItsBench(t *testing.T) {
	h := newHubProcess(t, "poll = \"30s\"\n")
	inv, err := service.Invite(h.dir, "one", []string{"127.0.0.1:" + h.port}, "")
	if err != nil {
		t.Fatal(err)
	}
	b := &simBench{tb: t, name: "one", inv: inv}
	h.start()
	if err := b.link(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.unlink)
	db := openHub(t, h.dir)
	began := time.Now()
	b.work(1)
	for n := 0; n == 0 && time.Since(began) < 10*time.Second; time.Sleep(50 * time.Millisecond) {
		b.tell() // until the link stands
		if err := db.QueryRow("SELECT count(*) FROM entry").Scan(&n); err != nil {
			t.Fatal(err)
		}
	}
	for n := 2; n < 12; n++ {
		began := time.Now()
		b.work(1)
		b.tell()
		waitEntries(t, h, db, n, 10*time.Second)
		if late := time.Since(began); late > 5*time.Second {
			t.Errorf("entry %d came %s late", n, late)
		}
	}
	t.Logf("ten entries, each told: the last one %s late at most", lateNow(t, db, 1))
}

// More benches than are asked at once fall silent: the others are asked as before.
func TestSilentBenchesHoldUpNoOther(t *testing.T) {
	inLong(t, "seventy benches")
	h := newHubProcess(t, "poll = \"500ms\"\n")
	wire := newCable(t, "127.0.0.1:"+h.port)
	var benches []*simBench
	for i := range 71 {
		address := wire.ln.Addr().String()
		if i == 0 {
			address = "127.0.0.1:" + h.port
		}
		name := fmt.Sprint("bench-", i)
		inv, err := service.Invite(h.dir, name, []string{address}, "")
		if err != nil {
			t.Fatal(err)
		}
		benches = append(benches, &simBench{tb: t, name: name, inv: inv})
	}
	h.start()
	for _, b := range benches {
		b.work(1)
		if err := b.link(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(b.unlink)
	}
	db := openHub(t, h.dir)
	waitEntries(t, h, db, len(benches), time.Minute)
	wire.quiet(true)
	defer wire.quiet(false)
	worst := time.Duration(0)
	for n := 1; n < 20; n++ {
		began := time.Now()
		benches[0].work(1)
		benches[0].tell()
		waitEntries(t, h, db, len(benches)+n, 30*time.Second)
		worst = max(worst, time.Since(began))
		time.Sleep(300 * time.Millisecond)
	}
	t.Logf("70 of 71 benches silent: an entry of the other came %s late at most", worst.Round(time.Millisecond))
	if worst > 2500*time.Millisecond {
		t.Errorf("an entry of the one that answers came %s late", worst)
	}
}
