package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/demo"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// tryHelp says how the simulated gauges are moved.
const tryHelp = `  0.0125 in        the gauge in hand moves there and stays
  +0.001 in  -5 mm it moves by so much
  use NAME         take another gauge in hand
  press            press the data key of the gauge in hand, where it has one
  gauges           the gauges and where they stand
  help, quit
Everything else is done on the page, as with real gauges.`

func newTryCommand() *cobra.Command {
	var listen string
	cmd := &cobra.Command{Use: "try", Short: "Learn the bench without hardware: the real service, gauges that you move by typing", Args: cobra.NoArgs,
		Long: "The real service with simulated gauges on pseudo-terminals. Open the page it prints, start a build there, and move the gauges here:\n\n" + tryHelp +
			"\n\nWith --state the ledger is kept; else it is thrown away at the end.",
		RunE: func(cmd *cobra.Command, _ []string) error {
			dir := ""
			if cmd.Flags().Changed("state") {
				var err error
				if dir, err = stateDir(cmd); err != nil {
					return err
				}
			}
			return try(cmd.Context(), dir, listen, cmd.InOrStdin(), cmd.OutOrStdout())
		}}
	cmd.Flags().StringVar(&listen, "listen", service.DefaultSettings().Monitor.Listen, "address of the page")
	return cmd
}

// try runs the service with a drawer of simulated gauges until its input or ctx ends.
func try(ctx context.Context, dir, listen string, in io.Reader, w io.Writer) (err error) {
	if dir == "" {
		if dir, err = os.MkdirTemp("", "thoud-try-"); err != nil {
			return fmt.Errorf("try: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	set := service.DefaultSettings()
	set.Bench = "try"
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: set, Log: zerolog.Nop(), Listen: freeListen(listen), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	var page net.Addr
	select {
	case page = <-ready:
	case err := <-ended:
		return err
	}
	hands, err := openTry(ctx, dir)
	if err == nil {
		defer func() { err = errors.Join(err, hands.drawer.Close()) }()
		fmt.Fprintf(w, "thoud try: the page is at http://%s\n%s\n", page, tryHelp)
		err = hands.follow(ctx, in, w)
	}
	cancel()
	return errors.Join(err, <-ended)
}

// tryHands are the simulated gauges and the one in hand.
type tryHands struct {
	drawer *demo.Drawer
	inHand *demo.Hand
}

// openTry makes the gauges and registers them.
func openTry(ctx context.Context, dir string) (*tryHands, error) {
	profiles, err := service.LoadProfiles("")
	if err != nil {
		return nil, err
	}
	drawer, err := demo.OpenDrawer(dir, profiles, 50*time.Millisecond, 1)
	if err != nil {
		return nil, err
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, "try")
	if err != nil {
		return nil, errors.Join(err, drawer.Close())
	}
	defer c.Close()
	st, err := c.Status(ctx)
	if err != nil {
		return nil, errors.Join(err, drawer.Close())
	}
	for _, g := range st.Gauges { // of an earlier try: their pseudo-terminals are gone
		if _, err := c.Do(ctx, bench.Verb{ID: service.NewID(), Name: bench.DoGaugeRemove, Gauge: g.Name, Reason: "another try begins"}); err != nil {
			return nil, errors.Join(err, drawer.Close())
		}
	}
	list, err := drawer.Register()
	if err != nil {
		return nil, errors.Join(err, drawer.Close())
	}
	for _, g := range list {
		a, err := c.Do(ctx, bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd, Register: &g, By: "try"})
		if err == nil && !a.OK {
			err = errors.New(a.Words)
		}
		if err != nil {
			return nil, errors.Join(err, drawer.Close())
		}
	}
	return &tryHands{drawer: drawer, inHand: drawer.Hands["indicator"]}, nil
}

// follow does what is typed until the input or ctx ends.
func (h *tryHands) follow(ctx context.Context, in io.Reader, w io.Writer) error {
	lines := make(chan string)
	go func() {
		defer close(lines)
		for sc := bufio.NewScanner(in); sc.Scan(); {
			select {
			case lines <- strings.TrimSpace(sc.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	for {
		select {
		case <-ctx.Done():
			return nil
		case line, ok := <-lines:
			if !ok || line == "quit" {
				return nil
			}
			if said := h.do(line); said != "" {
				fmt.Fprintln(w, said)
			}
		}
	}
}

// do does one line and says what came of it.
func (h *tryHands) do(line string) string {
	word, rest, _ := strings.Cut(line, " ")
	switch word {
	case "":
		return ""
	case "help":
		return tryHelp
	case "gauges":
		var out []string
		for _, s := range demo.Specs() {
			if g := h.drawer.Hands[s.Role]; g.Gauge != nil {
				out = append(out, fmt.Sprintf("  %-14s %-12s %s", s.Name, s.Role, g.Gauge.Shown()))
			}
		}
		return strings.Join(out, "\n")
	case "use":
		for _, s := range demo.Specs() {
			if g := h.drawer.Hands[s.Role]; s.Name == strings.TrimSpace(rest) && g.Gauge != nil {
				h.inHand = g
				return s.Name + " is in hand"
			}
		}
		return fmt.Sprintf("no gauge %q with a line here: gauges lists them", rest)
	case "press":
		if err := h.inHand.Send(); err != nil {
			return err.Error()
		}
		return ""
	}
	by := strings.HasPrefix(line, "+") || strings.HasPrefix(line, "-")
	v, err := quantity.Parse(line)
	if err != nil {
		return err.Error() + "; help says what can be typed"
	}
	stands := h.inHand.Gauge.Shown()
	if v.Kind() != stands.Kind() {
		return fmt.Sprintf("the gauge in hand shows %s; %s is no %s", stands, v, stands.Kind())
	}
	if by {
		if v, err = stands.Add(v); err != nil {
			return err.Error()
		}
	}
	h.inHand.Gauge.Set(v)
	return ""
}
