// Package bridge builds the firmware of the bench bridge and runs it in a simulator of its controller, so that tests can
// play levels on its pins and hear what it sends. The firmware's C stands in the folder firmware. It refuses to pretend:
// without the compiler and the simulator Build fails with ErrNoTools. Only tests import it.
package bridge

import (
	"bufio"
	"bytes"
	"context"
	"embed"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

//go:embed firmware
var sources embed.FS

// ErrNoTools is what Build fails with on a machine without the compiler, the simulator or the C compiler.
var ErrNoTools = errors.New("the tools for the bridge's firmware are not installed")

// Firmware is the built firmware, with what runs it.
type Firmware struct {
	Controller string // as compiler and simulator call it
	Flash      int    // bytes of program memory
	Memory     int    // bytes of variables; the stack comes on top
	elf        string
	harness    string
}

// ControllerVar names the environment variable that says for which controller the firmware is built; without it one is
// picked that both the compiler and the simulator know.
const ControllerVar = "THOUD_BRIDGE_MCU"

// Build builds firmware and harness in a folder. defs are definitions for the firmware, as "GONE=500".
func Build(ctx context.Context, dir string, defs ...string) (*Firmware, error) {
	for _, tool := range []string{"avr-gcc", "avr-size", "simavr", "make", "cc"} {
		if _, err := exec.LookPath(tool); err != nil {
			return nil, fmt.Errorf("%w: %w", ErrNoTools, err)
		}
	}
	if out, err := exec.CommandContext(ctx, "cc", "-E", "-include", "simavr/sim_avr.h", "-x", "c", os.DevNull).CombinedOutput(); err != nil {
		return nil, fmt.Errorf("%w: the simulator's headers: %w\n%.200s", ErrNoTools, err, out)
	}
	if err := os.CopyFS(dir, sources); err != nil {
		return nil, fmt.Errorf("bridge: %w", err)
	}
	name := os.Getenv(ControllerVar)
	if name == "" {
		var err error
		if name, err = pick(ctx); err != nil {
			return nil, err
		}
	}
	args := []string{"-C", filepath.Join(dir, "firmware"), "MCU=" + name, "OUT=" + dir, "all", "harness"}
	if len(defs) > 0 {
		args = append(args, "DEFS=-D"+strings.Join(defs, " -D"))
	}
	out, err := exec.CommandContext(ctx, "make", args...).CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("bridge: make: %w\n%s", err, out)
	}
	f := &Firmware{Controller: name, elf: filepath.Join(dir, "bridge.elf"), harness: filepath.Join(dir, "harness")}
	sizes := regexp.MustCompile(`(?m)^\s*(\d+)\s+(\d+)\s+(\d+)\s+\d+`).FindSubmatch(out)
	if sizes == nil {
		return nil, fmt.Errorf("bridge: make did not tell the size:\n%s", out)
	}
	var n [3]int
	for i := range n {
		n[i], _ = strconv.Atoi(string(sizes[i+1])) // figures by the pattern
	}
	f.Flash, f.Memory = n[0]+n[1], n[1]+n[2]
	return f, nil
}

// wanted are the registers that the firmware needs, as the compiler's headers name them.
var wanted = []string{"PORTB", "PORTC", "PORTD", "UCSR0A", "U2X0", "TCCR1B", "EICRA", "EIMSK", "INT0_vect", "INT1_vect", "PD5"}

// pick finds a controller that has what the firmware needs: in those without a port A the interrupts INT0 and INT1 lie on
// PD2 and PD3. A kilobyte of memory leaves room for the stack.
func pick(ctx context.Context) (string, error) {
	list, err := exec.CommandContext(ctx, "simavr", "--list-cores").Output()
	if len(list) == 0 {
		return "", fmt.Errorf("bridge: simavr --list-cores: %w", err)
	}
	_, names, _ := strings.Cut(string(list), ":")
	for _, name := range strings.Fields(names) {
		cmd := exec.CommandContext(ctx, "avr-gcc", "-mmcu="+name, "-E", "-dM", "-include", "avr/io.h", "-x", "c", "-")
		cmd.Stdin = strings.NewReader("")
		macros, err := cmd.Output()
		if err != nil {
			continue // the compiler does not know it
		}
		if _, has := macro(macros, "PORTA"); has {
			continue
		}
		missing := false
		for _, w := range wanted {
			_, has := macro(macros, w)
			missing = missing || !has
		}
		end, _ := macro(macros, "RAMEND")
		top, _ := strconv.ParseInt(strings.TrimSuffix(strings.Trim(end, "()"), "U"), 0, 32)
		if !missing && top >= 0x4FF {
			return name, nil
		}
	}
	return "", fmt.Errorf("%w: no controller that compiler and simulator both know fits; name one in %s", ErrNoTools, ControllerVar)
}

func macro(macros []byte, name string) (value string, has bool) {
	m := regexp.MustCompile(`(?m)^#define ` + name + `\s+(.*)$`).FindSubmatch(macros)
	if m == nil {
		return "", false
	}
	return string(m[1]), true
}

// Level is a change of one pin, so long after the change before it. Pins are named by port and number, as "D2"; all begin
// high.
type Level struct {
	After time.Duration
	Pin   string
	High  bool
}

func write(w io.Writer, levels []Level) error {
	b := bufio.NewWriter(w)
	for _, l := range levels {
		high := 0
		if l.High {
			high = 1
		}
		fmt.Fprintf(b, "%d %s %d\n", l.After.Nanoseconds(), l.Pin, high)
	}
	return b.Flush()
}

// Played is what came of levels that were played.
type Played struct {
	Sent      []byte
	Simulated time.Duration
	Interrupt time.Duration // the longest interrupt
	Answered  time.Duration // from the last level to the last byte
}

// Play runs the firmware from its start, plays levels, and ends 100 ms of simulated time after the last one.
func (f *Firmware) Play(ctx context.Context, levels []Level) (Played, error) {
	var in, out, figures bytes.Buffer
	if err := write(&in, levels); err != nil {
		return Played{}, err
	}
	cmd := exec.CommandContext(ctx, f.harness, f.Controller, f.elf)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = &in, &out, &figures
	if err := cmd.Run(); err != nil {
		return Played{}, fmt.Errorf("bridge: %w\n%s", err, figures.Bytes())
	}
	m := regexp.MustCompile(`(?m)^(\d+) \d+ (\d+) (\d+)$`).FindSubmatch(figures.Bytes())
	if m == nil {
		return Played{}, fmt.Errorf("bridge: the harness told no figures:\n%s", figures.Bytes())
	}
	ms, _ := strconv.Atoi(string(m[1])) // figures by the pattern
	cycles, _ := strconv.Atoi(string(m[2]))
	us, _ := strconv.Atoi(string(m[3]))
	return Played{Sent: out.Bytes(), Simulated: time.Duration(ms) * time.Millisecond, Interrupt: time.Duration(float64(cycles) * 62.5),
		Answered: time.Duration(us) * time.Microsecond}, nil
}

// Live is the firmware running in real time, its serial line a pseudo-terminal.
type Live struct {
	Path string // the pseudo-terminal
	cmd  *exec.Cmd
	in   io.WriteCloser
}

// Start runs the firmware until Stop.
func (f *Firmware) Start(ctx context.Context) (*Live, error) {
	cmd := exec.CommandContext(ctx, f.harness, "-t", f.Controller, f.elf)
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, fmt.Errorf("bridge: %w", err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, fmt.Errorf("bridge: %w", err)
	}
	if err := cmd.Start(); err != nil {
		return nil, fmt.Errorf("bridge: %w", err)
	}
	path, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		return nil, errors.Join(fmt.Errorf("bridge: the harness opened no terminal: %w", err), cmd.Wait())
	}
	return &Live{Path: strings.TrimSpace(path), cmd: cmd, in: in}, nil
}

// Play hands levels over; they are played one after the other as time goes on.
func (l *Live) Play(levels []Level) error { return write(l.in, levels) }

// Stop ends it after the levels that were handed over.
func (l *Live) Stop() error {
	l.in.Close()
	if err := l.cmd.Wait(); err != nil {
		return fmt.Errorf("bridge: %w", err)
	}
	return nil
}
