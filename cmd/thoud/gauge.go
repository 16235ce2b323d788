package main

import (
	"bufio"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
)

func newGaugeCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "gauge", Short: "The gauges of the bench"}
	cmd.AddCommand(newGaugeAddCommand(), newGaugeListCommand(), newGaugeRemoveCommand(), newGaugeCheckCommand(), newGaugeStudyCommand(), newGaugeUseCommand())
	return cmd
}

type gaugeFlags struct {
	port, profile, role, channel, unit, sends, resolution, calibration, travel, perTurn string
	k, dof                                                                              float64
	sense, longest                                                                      int
	keyed                                                                               bool
}

func newGaugeAddCommand() *cobra.Command {
	var f gaugeFlags
	cmd := &cobra.Command{Use: "add NAME", Short: "Register a gauge", Args: cobra.ExactArgs(1),
		Example: "  thoud gauge add dial-1 --port /dev/ttyUSB0 --profile text-signed-decimal-cr --unit mm --role indicator",
		RunE: func(cmd *cobra.Command, args []string) error {
			g, err := f.gauge(cmd, args[0])
			if err != nil {
				return err
			}
			return ask(cmd, bench.Verb{Name: bench.DoGaugeAdd, Register: g})
		}}
	fl := cmd.Flags()
	fl.StringVar(&f.port, "port", "", "serial port, as thoud ports lists it")
	fl.StringVar(&f.profile, "profile", "", "how it speaks, as thoud profile list names it")
	fl.StringVar(&f.role, "role", "", "what it is used as: "+strings.Join(plan.RoleNames(), ", "))
	fl.StringVar(&f.channel, "channel", "", "which channel of its line, where it has several")
	fl.StringVar(&f.unit, "unit", "", "what its display shows, where its frames name no unit: mm, in …")
	fl.IntVar(&f.longest, "longest", 0, "how many bytes a frame may have, as thoud identify found it; 0 for any")
	fl.StringVar(&f.sends, "sends", "stream", "stream (all the time), key (on its data key), polled (when asked)")
	fl.StringVar(&f.resolution, "resolution", "", "one count of its display, as \"0.0005 in\"")
	fl.StringVar(&f.calibration, "calibration", "", "expanded uncertainty of its certificate, as \"0.002 mm\"")
	fl.Float64Var(&f.k, "k", 2, "coverage factor of the certificate")
	fl.Float64Var(&f.dof, "dof", 0, "degrees of freedom of the certificate; 0 for infinite")
	fl.StringVar(&f.travel, "travel", "", "how far it travels")
	fl.StringVar(&f.perTurn, "per-turn", "", "of a plain dial: one revolution of its hand, as \"0.1 in\"")
	fl.IntVar(&f.sense, "sense", 1, "1 where the number grows when the contact is pushed in, else -1")
	fl.BoolVar(&f.keyed, "keyed", false, "a plain dial, feelers: it has no line, its values are typed")
	addAskFlags(cmd)
	return cmd
}

func (f gaugeFlags) gauge(cmd *cobra.Command, name string) (*bench.Gauge, error) {
	g := &bench.Gauge{Name: name, Profile: f.profile, Role: f.role, Channel: f.channel, Unit: f.unit, Longest: f.longest, Sends: bench.Sends(f.sends), Sense: f.sense, K: f.k, Dof: f.dof}
	if f.sense != 1 && f.sense != -1 {
		return nil, fmt.Errorf("--sense %d: want 1 or -1", f.sense)
	}
	for _, q := range []struct {
		flag, text string
		into       *quantity.Value
	}{{"resolution", f.resolution, &g.Resolution}, {"calibration", f.calibration, &g.Calibration}, {"travel", f.travel, &g.Travel}, {"per-turn", f.perTurn, &g.PerTurn}} {
		if q.text == "" {
			continue
		}
		v, err := quantity.Parse(q.text)
		if err != nil {
			return nil, fmt.Errorf("--%s: %w", q.flag, err)
		}
		*q.into = v
	}
	if f.keyed {
		g.Known = bench.KnownKeyed
		return g, nil
	}
	if f.port == "" || f.profile == "" {
		return nil, errors.New("a gauge wants --port and --profile; a plain dial wants --keyed")
	}
	dir, err := stateDir(cmd)
	if err != nil {
		return nil, err
	}
	profiles, err := service.LoadProfiles(filepath.Join(dir, service.ProfilesFolder))
	if err != nil {
		return nil, err
	}
	p, ok := profiles[f.profile]
	if !ok {
		return nil, fmt.Errorf("there is no profile %q: thoud profile list shows what there is", f.profile)
	}
	if g.Role == "" {
		g.Role = p.Role
	}
	if usual := p.UnnamedUnit(g.Channel); usual != "" && g.Unit == "" && isTerminal(cmd.OutOrStdout()) {
		fmt.Fprintf(cmd.OutOrStdout(), "the frames of profile %s name no unit, and it takes %s: what does the display show? ", p.Name, usual)
		in := bufio.NewScanner(cmd.InOrStdin())
		in.Scan()
		g.Unit = strings.TrimSpace(in.Text())
	}
	if p.Poll.Polled() {
		g.Sends = bench.SendsPolled
	}
	found, err := line.SystemPorts().Identify(f.port)
	if err != nil {
		return nil, err
	}
	g.Port, g.Known, g.Identity = f.port, found.Known, found.Identity
	if found.Known == bench.KnownPath {
		g.Port = found.Path
	}
	return g, nil
}

func newGaugeListCommand() *cobra.Command {
	return &cobra.Command{Use: "list", Short: "List the gauges and how they stand", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			st, err := askStatus(cmd)
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), st.Gauges)
			}
			rows := [][]string{{"GAUGE", "ROLE", "PORT", "STATE", "SHOWS", "ZERO"}}
			for _, g := range st.Gauges {
				state := "not there"
				switch {
				case g.Known == bench.KnownKeyed:
					state = "keyed"
				case g.Open && g.Noise > 0:
					state = fmt.Sprintf("open, %d frames spoilt", g.Noise)
				case g.Open:
					state = "open"
				}
				zero := g.Zero
				if g.Lost != "" {
					zero = "lost: " + g.Lost
				}
				rows = append(rows, []string{g.Name, g.Role, g.At, state, g.Live, zero})
			}
			table(cmd.OutOrStdout(), rows)
			return nil
		}}
}

func newGaugeRemoveCommand() *cobra.Command {
	return withReason(verbCommand("remove NAME", "Listen to a gauge no longer; its readings stay", bench.DoGaugeRemove, cobra.ExactArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			v.Gauge = args[0]
			return nil
		}))
}

func newGaugeUseCommand() *cobra.Command {
	return verbCommand("use NAME", "Let this gauge read where several of its role could", bench.DoUse, cobra.ExactArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error { v.Gauge = args[0]; return nil })
}
