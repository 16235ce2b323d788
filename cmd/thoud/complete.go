package main

import (
	"context"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// lister gives what a word on the command line can be. What cannot be found out, because no service runs or there is no
// ledger, is an empty list: completion never says anything but words.
type lister func(cmd *cobra.Command, args []string) []string

// completions says which argument, or flag, of which command is completed from which list. A flag is written with its
// dashes, an argument by its number from 0, "*" for every one.
func completions() map[string]map[string]lister {
	return map[string]map[string]lister{
		"sheet":         {"0": jobs, "--paper": words("a4", "letter"), "--format": words("html", "pdf", "csv", "json"), "--units": words("inch", "mm")},
		"bench":         {"0": jobs},
		"build start":   {"1": plans},
		"build show":    {"0": jobs},
		"build close":   {"0": jobs},
		"build compare": {"*": jobs},
		"readings":      {"--job": jobs, "--step": steps, "--point": points, "--gauge": gauges},
		"goto":          {"0": steps, "1": points},
		"retake":        {"0": points},
		"reopen":        {"0": steps},
		"take":          {"--gauge": gauges},
		"zero":          {"--gauge": gauges},
		"key":           {"--gauge": gauges},
		"bracket":       {"--gauge": gauges},
		"gauge add":     {"--role": roles, "--profile": profiles},
		"gauge remove":  {"0": gauges},
		"gauge use":     {"0": gauges},
		"gauge check":   {"0": gauges},
		"gauge study":   {"0": gauges},
		"profile show":  {"0": profiles},
		"plan show":     {"0": plans},
		"plan new":      {"--from": plans},
		"plan adopt":    {"0": jobs},
		"plan edit":     {"0": jobs, "--leave-out": steps, "--put-back": steps, "--change": steps, "--after": steps, "--role": roles},
		"export":        {"--format": words("csv", "jsonl")},
		"run":           {"--log-level": words("debug", "info", "warn", "error"), "--log-format": words("auto", "text", "json", "journal")},
	}
}

// addCompletions tells the commands what to complete with. A row of a command, or a flag, that is not there is a mistake
// of the table, and a test finds it.
func addCompletions(root *cobra.Command) error {
	for path, rows := range completions() {
		cmd, _, err := root.Find(strings.Fields(path))
		if err != nil {
			return err
		}
		cmd.ValidArgsFunction = func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			list, ok := rows["*"]
			if !ok {
				list, ok = rows[string(rune('0'+len(args)))]
			}
			if !ok {
				return nil, cobra.ShellCompDirectiveDefault
			}
			return list(cmd, args), cobra.ShellCompDirectiveNoFileComp
		}
		for name, list := range rows {
			flag, ok := strings.CutPrefix(name, "--")
			if !ok {
				continue
			}
			if err := cmd.RegisterFlagCompletionFunc(flag, func(cmd *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
				return list(cmd, args), cobra.ShellCompDirectiveNoFileComp
			}); err != nil {
				return err
			}
		}
	}
	return nil
}

func words(list ...string) lister { return func(*cobra.Command, []string) []string { return list } }

func jobs(cmd *cobra.Command, _ []string) (out []string) {
	_ = withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
		rows, err := s.Builds(ctx, name)
		for _, b := range rows {
			out = append(out, b.Job)
		}
		return err
	})
	return out
}

// here is the plan of the build on the bench.
func here(cmd *cobra.Command) (b *bench.Build) {
	_ = withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
		job, err := s.Here(ctx, name)
		if err != nil || job == "" {
			return err
		}
		b, _, err = s.Build(ctx, name, job, 0)
		return err
	})
	return b
}

func steps(cmd *cobra.Command, _ []string) (out []string) {
	if b := here(cmd); b != nil && b.Plan != nil {
		for _, s := range b.Plan.Steps {
			out = append(out, s.ID)
		}
	}
	return out
}

// points are those of the step that stands before, else of the one on the bench.
func points(cmd *cobra.Command, args []string) (out []string) {
	if len(args) == 1 {
		if b := here(cmd); b != nil && b.Plan != nil {
			for _, s := range b.Plan.Steps {
				if s.ID != args[0] {
					continue
				}
				for _, p := range s.Points {
					out = append(out, p.ID)
				}
			}
		}
		return out
	}
	if st, err := askStatus(cmd); err == nil {
		for _, p := range st.Points {
			out = append(out, p.Point)
		}
	}
	return out
}

func gauges(cmd *cobra.Command, _ []string) (out []string) {
	if st, err := askStatus(cmd); err == nil {
		for _, g := range st.Gauges {
			out = append(out, g.Name)
		}
	}
	return out
}

func roles(*cobra.Command, []string) []string { return plan.RoleNames() }

func plans(cmd *cobra.Command, _ []string) []string {
	list, err := plan.Shipped()
	if err != nil {
		return nil
	}
	if dir, err := stateDir(cmd); err == nil {
		if own, err := service.OwnPlans(dir); err == nil {
			list = append(list, own...)
		}
	}
	return list
}

func profiles(cmd *cobra.Command, _ []string) []string {
	dir, err := stateDir(cmd)
	if err != nil {
		return nil
	}
	list, err := service.LoadProfiles(filepath.Join(dir, service.ProfilesFolder))
	if err != nil {
		return nil
	}
	return slices.Sorted(maps.Keys(list))
}
