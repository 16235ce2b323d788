package main

import (
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
