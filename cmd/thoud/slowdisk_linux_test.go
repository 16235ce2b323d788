package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// slowSync is what every sync of the slow disk takes more than on this one.
const slowSync = 10 * time.Millisecond

// BenchmarkSlowDisk is the way of a reading on a disk whose sync takes ten milliseconds longer: strace(1) holds up every
// fsync and fdatasync of the process, and traces nothing else.
func BenchmarkSlowDisk(b *testing.B) {
	if _, err := exec.LookPath("strace"); err != nil {
		b.Skip("not run: strace is not installed")
	}
	dir := b.TempDir()
	if err := os.WriteFile(filepath.Join(dir, service.SettingsName), []byte("lockout = \"0s\"\n"), 0o600); err != nil {
		b.Fatal(err)
	}
	p := pressOn(b, serveSlowly(b, dir), manyPlan(60), "dial-1", "17")
	var own []time.Duration
	at, n := 60, uint64(0)
	for b.Loop() {
		if at == 60 {
			p.settled(n)
			n, at = p.open(), 0
		}
		time.Sleep(2 * slowSync)
		n++
		t0 := time.Now()
		if err := p.gauge.Send(); err != nil {
			b.Fatal(err)
		}
		p.await(n)
		own = append(own, time.Since(t0))
		if at++; at == 60 {
			n++ // the pass is closed
			p.await(n)
		}
	}
	b.ReportMetric(ms(percentile(own, 0.5)), "p50-ms")
	b.ReportMetric(ms(percentile(own, 0.99)), "p99-ms")
	b.ReportMetric(0, "ns/op")
}

// serveSlowly runs the service as a process on the slow disk.
func serveSlowly(b *testing.B, dir string) *served {
	b.Helper()
	path := builtThoud(b)
	cmd := exec.Command("strace", "-f", "--seccomp-bpf", "-qq", "-o", "/dev/null", "-e", "trace=fsync,fdatasync",
		"-e", fmt.Sprintf("inject=fsync,fdatasync:delay_exit=%d", slowSync.Microseconds()), path, "run", "--listen=", "--state", dir)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	v := &served{tb: b, dir: dir}
	b.Cleanup(func() {
		v.Close()
		// The whole group of our own: strace does not hand a signal on.
		if err := syscall.Kill(-cmd.Process.Pid, syscall.SIGTERM); err != nil {
			b.Error(err)
		}
		_ = cmd.Wait() // it was told to end
	})
	v.eventually("the service runs", func() bool {
		c, err := bus.Dial(filepath.Join(dir, service.SocketName), "bench")
		if err != nil {
			return false
		}
		if _, err := c.Status(b.Context()); err != nil {
			c.Close()
			return false
		}
		v.Client = c
		return true
	})
	return v
}
