package main

import (
	"context"
	"errors"
	"fmt"
	"os/user"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// dial connects a command to the running service of its state folder.
func dial(cmd *cobra.Command) (*bus.Client, error) {
	dir, err := stateDir(cmd)
	if err != nil {
		return nil, err
	}
	name, err := service.BenchName(cmd.Context(), dir)
	if err != nil {
		return nil, err
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, name)
	if errors.Is(err, bus.ErrNoService) && dir != service.Installed.Dir && service.Installed.Shut() {
		return nil, fmt.Errorf("%w; a service is installed in %s, which this user may not use: sudo usermod -aG thoud %s, then log in again", err, service.Installed.Dir, whoami())
	}
	return c, err
}

// askPatience is how long a command waits for the bench, a full disk included, before it gives up.
const askPatience = 30 * time.Second

// ask sends a verb and prints the answer. A refusal is an error with the bench's own words.
func ask(cmd *cobra.Command, v bench.Verb) error {
	c, err := dial(cmd)
	if err != nil {
		return err
	}
	defer c.Close()
	ctx, cancel := context.WithTimeout(cmd.Context(), askPatience)
	defer cancel()
	if v.ID == "" {
		v.ID = service.NewID()
	}
	if v.By == "" {
		v.By = whoami()
	}
	if err := seenPlace(cmd, &v); err != nil {
		return err
	}
	a, err := c.Do(ctx, v)
	if err != nil {
		return err
	}
	if wantJSON(cmd) {
		if err := printJSON(cmd.OutOrStdout(), a); err != nil {
			return err
		}
		if !a.OK {
			return &silentError{1}
		}
		return nil
	}
	if !a.OK {
		return errors.New(a.Words)
	}
	fmt.Fprintln(cmd.OutOrStdout(), a.Words)
	return nil
}

// addAskFlags are the flags of every command that asks something of the bench.
func addAskFlags(cmd *cobra.Command) {
	cmd.Flags().String("id", "", "id of this request: asked twice under one id it is done once")
	cmd.Flags().String("seen", "", "the place you saw, STEP/PASS/POINT: refused if the bench has moved on")
	cmd.Flags().String("by", "", "initials")
}

// seenPlace fills id, initials and the seen place from the flags.
func seenPlace(cmd *cobra.Command, v *bench.Verb) error {
	if id, err := cmd.Flags().GetString("id"); err == nil && id != "" {
		v.ID = id
	}
	if by, err := cmd.Flags().GetString("by"); err == nil && by != "" {
		v.By = by
	}
	seen, err := cmd.Flags().GetString("seen")
	if err != nil || seen == "" {
		return nil
	}
	c, err := dial(cmd)
	if err != nil {
		return err
	}
	defer c.Close()
	st, err := c.Status(cmd.Context())
	if err != nil {
		return err
	}
	p, err := parsePlace(seen)
	if err != nil {
		return err
	}
	p.Build = st.Place.Build
	if p.Point != "" && p.Seating == 0 {
		p.Seating = 1
	}
	v.Seen = &p
	return nil
}

// parsePlace reads STEP, STEP/PASS or STEP/PASS/POINT.
func parsePlace(s string) (bench.Place, error) {
	parts := strings.SplitN(s, "/", 3)
	p := bench.Place{Step: parts[0]}
	if len(parts) > 1 {
		if _, err := fmt.Sscanf(parts[1], "%d", &p.Pass); err != nil || p.Pass < 0 {
			return p, fmt.Errorf("%q is not a place: want STEP/PASS/POINT, as \"bore/2/left.top\"", s)
		}
	}
	if len(parts) > 2 {
		p.Point = parts[2]
	}
	return p, nil
}

// whoami is the user's name, for the ledger.
func whoami() string {
	u, err := user.Current()
	if err != nil {
		return "command"
	}
	return u.Username
}

func quantityFlag(cmd *cobra.Command, name string) (*quantity.Value, error) {
	s, err := cmd.Flags().GetString(name)
	if err != nil || s == "" {
		return nil, err
	}
	v, err := quantity.Parse(s)
	if err != nil {
		return nil, fmt.Errorf("--%s: %w", name, err)
	}
	return &v, nil
}
