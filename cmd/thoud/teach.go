package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/line"
	"thoud/cmd/thoud/service"
	"thoud/devices"
)

// pressPatience is how long teach waits for the data key.
const pressPatience = 60 * time.Second

func newTeachCommand() *cobra.Command {
	var name, title, keepFrom string
	var settings devices.Line
	cmd := &cobra.Command{Use: "teach PORT", Short: "Learn how a gauge speaks that no profile fits, from a few presses of its data key", Args: cobra.ExactArgs(1),
		Long: `Set the gauge to a value, type here what its display shows, press its data key; three or four times: 0, something
positive, the same negative, and in the other unit if it has one. A last press proves what was learnt. A gauge that
sends by itself is noticed at the beginning: keep it still while it is listened to. The raw bits of a bridge want five
values; its second channel is taught with --keep and the profile of the first. The profile is written into the profiles
folder of the state folder.`,
		RunE: func(cmd *cobra.Command, args []string) error {
			dir, err := stateDir(cmd)
			if err != nil {
				return err
			}
			base := devices.Profile{Name: name, Title: title, Line: settings}
			if keepFrom != "" {
				if base.Bench, err = bridgeOf(cmd, keepFrom); err != nil {
					return err
				}
			}
			t := &teacher{in: bufio.NewScanner(cmd.InOrStdin()), out: cmd.OutOrStdout()}
			port, _, err := line.OpenSerial(args[0], settings)
			if err != nil {
				return err
			}
			defer port.Close()
			l, err := t.learn(cmd.Context(), port, base)
			if err != nil {
				return err
			}
			return writeProfile(cmd.OutOrStdout(), filepath.Join(dir, service.ProfilesFolder), l.Profile(), l.Channel())
		}}
	cmd.Flags().StringVar(&name, "name", "", "the profile's name, by what it sends: a-z, 0-9 and -")
	cmd.Flags().StringVar(&title, "title", "a gauge taught at the bench", "one line that says what it is")
	cmd.Flags().StringVar(&keepFrom, "keep", "", "of a bridge: a profile that describes its other channels, which are kept")
	cmd.Flags().IntVar(&settings.Baud, "baud", 9600, "speed of the line")
	cmd.Flags().IntVar(&settings.DataBits, "bits", 8, "data bits")
	cmd.Flags().StringVar(&settings.Parity, "parity", "none", "none, even or odd")
	cmd.Flags().IntVar(&settings.StopBits, "stop", 1, "stop bits")
	if err := cmd.MarkFlagRequired("name"); err != nil {
		panic("teach: " + err.Error()) // the flag is defined just above
	}
	return cmd
}

// bridgeOf gives what a profile knows of the channels of a bridge.
func bridgeOf(cmd *cobra.Command, name string) (*devices.Bench, error) {
	list, err := profileList(cmd)
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(list, func(p devices.Profile) bool { return p.Name == name })
	switch {
	case i < 0:
		return nil, fmt.Errorf("--keep %s: there is no such profile: thoud profile list shows what there is", name)
	case list[i].Bench == nil || len(list[i].Bench.Bits) == 0:
		return nil, fmt.Errorf("--keep %s: it describes no channel of a bridge", name)
	}
	return list[i].Bench, nil
}

// teacher leads the builder through the presses.
type teacher struct {
	in      *bufio.Scanner
	out     io.Writer
	streams bool // the gauge sends by itself
}

// standstill is how long a gauge that streams is listened to: one that sends twice a second brings whole frames.
const standstill = 1500 * time.Millisecond

func (t *teacher) learn(ctx context.Context, port line.Port, base devices.Profile) (devices.Lesson, error) {
	fmt.Fprintln(t.out, "leave the gauge alone for a moment: does it send by itself?")
	b, _, err := line.Standstill(ctx, port, standstill)
	if err != nil {
		return devices.Lesson{}, err
	}
	if t.streams = len(b) > 0; t.streams {
		fmt.Fprintln(t.out, "it sends by itself")
	}
	asks, least := devices.Asks(len(devices.RawChannels(b)) > 0)
	var presses []devices.Press
	for _, ask := range asks {
		p, ok, err := t.press(ctx, port, ask+skips(ask, asks))
		if err != nil {
			return devices.Lesson{}, err
		}
		if !ok && len(presses) >= least {
			break
		}
		if ok {
			presses = append(presses, p)
		}
	}
	lesson, err := devices.Teach(base, t.streams, presses)
	if err != nil {
		return devices.Lesson{}, err
	}
	p, ok, err := t.press(ctx, port, devices.AskProof)
	if err != nil || !ok {
		return devices.Lesson{}, fmt.Errorf("not proved, so nothing is written: %w", err)
	}
	if lesson, err = lesson.Prove(p); err != nil {
		return devices.Lesson{}, err
	}
	if c := lesson.Channel(); c != "" {
		fmt.Fprintf(t.out, "its lines carry several channels; the display was that of %s\n", c)
	}
	for _, note := range lesson.Ambiguous() {
		fmt.Fprintln(t.out, "still open:", note)
	}
	return lesson, nil
}

// skips says that the last value may be left out.
func skips(ask string, asks []string) string {
	if ask == asks[len(asks)-1] {
		return " (empty line to skip)"
	}
	return ""
}

// press asks for one value and waits for the data key.
func (t *teacher) press(ctx context.Context, port line.Port, ask string) (devices.Press, bool, error) {
	for {
		fmt.Fprintf(t.out, "set the gauge to %s and type what its display shows, with its unit: ", ask)
		if !t.in.Scan() || strings.TrimSpace(t.in.Text()) == "" {
			fmt.Fprintln(t.out)
			return devices.Press{}, false, t.in.Err()
		}
		v, err := quantity.Parse(t.in.Text())
		if err != nil {
			fmt.Fprintln(t.out, err)
			continue
		}
		p := devices.Press{Shown: v}
		if p.Bytes, p.Pauses, err = t.hear(ctx, port); err != nil {
			return p, false, err
		}
		fmt.Fprintf(t.out, "heard %d bytes: %q\n", len(p.Bytes), p.Bytes[:min(len(p.Bytes), bytesShown)])
		return p, true, nil
	}
}

// bytesShown is how much of a press is shown.
const bytesShown = 80

// hear takes one press of the data key, or listens to a gauge that sends by itself.
func (t *teacher) hear(ctx context.Context, port line.Port) (b []byte, pauses []int, err error) {
	if t.streams {
		fmt.Fprintln(t.out, "keep it still")
		return line.Standstill(ctx, port, standstill)
	}
	fmt.Fprintln(t.out, "now press its data key once")
	wait, cancel := context.WithTimeout(ctx, pressPatience)
	defer cancel()
	if b, err = line.PressedOnce(wait, port); err != nil {
		return nil, nil, fmt.Errorf("no press came: %w", err)
	}
	return b, nil, nil
}

// writeProfile writes a taught profile; channel is the one that was taught, "" where its lines carry one only.
func writeProfile(w io.Writer, dir string, p devices.Profile, channel string) error {
	path, err := service.KeepProfile(dir, p)
	if err != nil {
		return err
	}
	more := ""
	if unit := p.UnnamedUnit(channel); unit != "" {
		more = " --unit " + unit
	}
	if channel != "" {
		more += " --channel " + channel
	}
	fmt.Fprintf(w, "written: %s; restart the service, then thoud gauge add NAME --port PORT --profile %s%s\n", path, p.Name, more)
	return nil
}
