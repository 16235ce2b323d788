package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/demo"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// demoOptions are the flags of thoud demo.
type demoOptions struct {
	fast, exit bool
	byEye      bool // the degree wheel is read by eye
	dir, plan  string
	job        string // of the build, once it was started
	seed       uint64
	listen     string              // address of the page; "" takes the settings'
	care       float64             // of the builder's hand, 1 as the plan states; 0 for the demo's own
	watch      func(*demo.Builder) // told of the builder before he begins
	wait       func(time.Duration) // lets time pass at the bench
}

func newDemoCommand() *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{Use: "demo", Short: "Show a whole build with simulated gauges; nothing to set up", Args: cobra.NoArgs,
		Long: `A fictional engine, simulated gauges on real pseudo-terminals, the real service in front of them, and a builder who
does what thoud tells, with human error. Open the page it prints and watch. Everything in it is invented.

With --state FOLDER the ledger is kept, and can be looked at like any other; else it is thrown away at the end.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if cmd.Flags().Changed("state") {
				dir, err := stateDir(cmd)
				if err != nil {
					return err
				}
				o.dir = dir
			}
			if o.listen == "" {
				return usageError(cmd, "--listen \"\": the demo is there to be watched; want an address, as 127.0.0.1:0")
			}
			return o.run(cmd.Context(), cmd.OutOrStdout())
		}}
	cmd.Flags().BoolVar(&o.fast, "fast", false, "in seconds rather than minutes")
	cmd.Flags().BoolVar(&o.exit, "exit", false, "end when the build is done, instead of keeping the page up")
	cmd.Flags().BoolVar(&o.byEye, "by-eye", false, "read the degree wheel by eye, without an angle encoder")
	cmd.Flags().StringVar(&o.plan, "plan", "pushrod-twin", "which shipped plan is played")
	cmd.Flags().StringVar(&o.listen, "listen", service.DefaultSettings().Monitor.Listen, "address of the page; a free port is taken where it is taken")
	cmd.Flags().Uint64Var(&o.seed, "seed", 1, "of the hand's errors and the gauges' noise")
	return cmd
}

func (o demoOptions) run(ctx context.Context, w io.Writer) (err error) {
	kept := o.dir != ""
	if !kept {
		if o.dir, err = os.MkdirTemp("", "thoud-demo-"); err != nil {
			return fmt.Errorf("demo: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(o.dir)) }()
	}
	cfg := service.DefaultSettings()
	if o.listen != "" {
		cfg.Monitor.Listen = o.listen
	}
	cfg.Bench, cfg.Lockout = "demo", "200ms" // well under the pace of the hand
	if o.fast {
		cfg.Lockout = "1ms"
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ready := make(chan net.Addr, 1)
	var ahead atomic.Int64 // what cures is waited for on a clock of the demo's own
	o.wait = func(d time.Duration) { ahead.Add(int64(d)) }
	s := &service.Service{Dir: o.dir, Settings: cfg, Log: zerolog.Nop(), Listen: freeListen(cfg.Monitor.Listen), Ready: func(a net.Addr) { ready <- a },
		Ahead: func() time.Duration { return time.Duration(ahead.Load()) }}
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx) }()
	var page net.Addr
	select {
	case page = <-ready:
		fmt.Fprintf(w, "thoud demo: watch at http://%s\n", page)
	case err := <-ended:
		return err
	case <-ctx.Done():
		return <-ended
	}
	play := make(chan error, 1)
	go func() { play <- o.play(ctx, w) }()
	select {
	case err = <-play:
	case err = <-ended:
		return err
	}
	if err == nil && kept {
		fmt.Fprintf(w, "the ledger is kept in %s; its sheet: thoud sheet %s --state %s --format pdf -o sheet.pdf\n", o.dir, o.job, o.dir)
	}
	if err == nil && !o.exit {
		fmt.Fprintf(w, "the build sheet is at http://%s/sheet?job=%s\n", page, url.QueryEscape(o.job))
		fmt.Fprintln(w, "the build is done; the page stays up until you stop this (Ctrl-C)")
		<-ctx.Done()
	}
	cancel()
	stopped := <-ended
	if errors.Is(err, context.Canceled) {
		err = nil
	}
	return errors.Join(err, stopped)
}

// play opens the drawer, starts the build and lets the builder work.
func (o *demoOptions) play(ctx context.Context, w io.Writer) (err error) {
	profiles, err := service.LoadProfiles(filepath.Join(o.dir, service.ProfilesFolder))
	if err != nil {
		return err
	}
	pace, every := 500*time.Millisecond, 50*time.Millisecond
	if o.fast {
		pace, every = 0, 10*time.Millisecond
	}
	drawer, err := demo.OpenDrawer(o.dir, profiles, every, o.seed)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, drawer.Close()) }()
	path, _ := service.SocketPath(o.dir)
	c, err := bus.Dial(path, "demo")
	if err != nil {
		return err
	}
	defer c.Close()
	if err := o.setUp(ctx, c, drawer); err != nil {
		return err
	}
	text, err := o.planText()
	if err != nil {
		return err
	}
	p, err := plan.Parse(o.plan, text)
	if err != nil {
		return err
	}
	b := &demo.Builder{Service: c, Plan: p, Engine: demo.NewEngine(p, o.seed), Gauges: drawer.Hands, Pedal: drawer.Pedal, Pace: pace, Care: o.care, Say: demo.Print(w), Wait: o.wait}
	if b.Care == 0 {
		b.Care = 0.5 // a good hand does better than what is stated of it
	}
	if o.watch != nil {
		o.watch(b)
	}
	if err := b.Work(ctx); err != nil {
		return err
	}
	for _, what := range b.Caught {
		fmt.Fprintf(w, "caught: %s\n", what)
	}
	st, err := c.Status(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "job %s is measured: %d entries in the ledger\n", st.Job, st.N)
	return nil
}

// planText is the plan that is played, shaped as was asked.
func (o demoOptions) planText() ([]byte, error) {
	text, err := plan.ShippedText(o.plan)
	if err != nil || !o.byEye {
		return text, err
	}
	return plan.Shape(o.plan, text, map[string]string{"wheel": "eye"})
}

// demoJob is the demo's build; another run on the same state folder takes the next number.
const demoJob = "demo"

func (o *demoOptions) setUp(ctx context.Context, c *bus.Client, d *demo.Drawer) error {
	st, err := c.Status(ctx)
	if err != nil {
		return err
	}
	for _, g := range st.Gauges {
		if _, err := c.Do(ctx, bench.Verb{ID: service.NewID(), Name: bench.DoGaugeRemove, Gauge: g.Name, Reason: "another demo begins"}); err != nil {
			return err
		}
	}
	gauges, err := d.Register()
	if err != nil {
		return err
	}
	must := func(v bench.Verb) error {
		v.ID, v.By = service.NewID(), "demo"
		a, err := c.Do(ctx, v)
		if err == nil && !a.OK {
			err = errors.New(a.Words)
		}
		return err
	}
	for _, g := range gauges {
		if err := must(bench.Verb{Name: bench.DoGaugeAdd, Register: &g}); err != nil {
			return err
		}
	}
	text, err := o.planText()
	if err != nil {
		return err
	}
	job := fmt.Sprintf("%s-%d", demoJob, st.N+1)
	o.job = job
	return must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Engine: "twin-207", Plan: o.plan, Text: string(text)}})
}

// freeListen is the address, or a free port beside it where it is taken.
func freeListen(addr string) string {
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return "127.0.0.1:0"
	}
	l.Close()
	return addr
}
