package main

import (
	"fmt"
	"net/http"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// verbCommand is a command that asks one verb of the bench; fill completes the verb from arguments and flags.
func verbCommand(use, short, verb string, args cobra.PositionalArgs, fill func(*cobra.Command, []string, *bench.Verb) error) *cobra.Command {
	cmd := &cobra.Command{Use: use, Short: short, Args: args, RunE: func(cmd *cobra.Command, args []string) error {
		v := bench.Verb{Name: verb}
		if fill != nil {
			if err := fill(cmd, args, &v); err != nil {
				return err
			}
		}
		return ask(cmd, v)
	}}
	addAskFlags(cmd)
	return cmd
}

func withGauge(cmd *cobra.Command) *cobra.Command {
	cmd.Flags().String("gauge", "", "which gauge, where several could be meant")
	return cmd
}

func withReason(cmd *cobra.Command) *cobra.Command {
	cmd.Flags().String("reason", "", "why; it is kept")
	return cmd
}

func gaugeAndReason(cmd *cobra.Command, v *bench.Verb) {
	if g, err := cmd.Flags().GetString("gauge"); err == nil {
		v.Gauge = g
	}
	if r, err := cmd.Flags().GetString("reason"); err == nil {
		v.Reason = r
	}
}

func newGotoCommand() *cobra.Command {
	return verbCommand("goto STEP [POINT]", "Stand at a step, or at a point of it", bench.DoGoto, cobra.RangeArgs(1, 2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			job, step, ok := strings.Cut(args[0], ":")
			if !ok {
				job, step = "", args[0]
			}
			v.Place = &bench.Place{Build: job, Step: step}
			if len(args) == 2 {
				v.Place.Point = args[1]
			}
			return nil
		})
}

func newZeroCommand() *cobra.Command {
	cmd := withGauge(verbCommand("zero", "Set the zero of a gauge that rests on its datum", bench.DoZero, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			v.Value, err = quantityFlag(cmd, "size")
			return err
		}))
	cmd.Flags().String("size", "", "the size of the setting standard it rests on, as \"1.0000 in\" (default: the step's, else 0)")
	return cmd
}

func newTakeCommand() *cobra.Command {
	return withGauge(verbCommand("take", "Take what the gauge shows now as the reading", bench.DoTake, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}

func newRetakeCommand() *cobra.Command {
	return withReason(verbCommand("retake [POINT]", "Withdraw the last reading (it is kept) and stand at its point again", bench.DoRetake, cobra.MaximumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			if len(args) == 1 {
				v.Place = &bench.Place{Point: args[0]}
			}
			return nil
		}))
}

func newNextCommand() *cobra.Command {
	return verbCommand("next", "Go on: the next pass where the verdict is not in, else the next step", bench.DoNext, cobra.NoArgs, nil)
}

func newAgainCommand() *cobra.Command {
	return withReason(verbCommand("again", "Open another pass of this step", bench.DoAgain, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}

func newVoidCommand() *cobra.Command {
	return withReason(verbCommand("void", "Make this pass void, with a reason; its readings are kept", bench.DoVoid, cobra.NoArgs,
		func(cmd *cobra.Command, _ []string, v *bench.Verb) error { gaugeAndReason(cmd, v); return nil }))
}

func newKeyCommand() *cobra.Command {
	cmd := withGauge(verbCommand("key VALUE", "Type a reading of a plain dial, as \"0.0215 in\"; it is marked keyed for ever", bench.DoKey, cobra.MinimumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			if v.Turns, err = cmd.Flags().GetInt("turns"); err != nil {
				return err
			}
			val, err := quantity.Parse(strings.Join(args, " "))
			v.Value = &val
			return err
		}))
	cmd.Flags().Int("turns", 0, "whole revolutions of the dial's hand besides VALUE (the gauge is registered with --per-turn)")
	return cmd
}

func newBracketCommand() *cobra.Command {
	return withGauge(verbCommand("bracket GOES STOPS", "Read feelers: the largest blade that goes, the smallest that does not", bench.DoBracket, cobra.ExactArgs(2),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			goes, err := quantity.ParseAs(quantity.Length, args[0])
			if err != nil {
				return fmt.Errorf("the blade that goes: %w", err)
			}
			stops, err := quantity.ParseAs(quantity.Length, args[1])
			if err != nil {
				return fmt.Errorf("the blade that does not go: %w", err)
			}
			v.Goes, v.Stops = &goes, &stops
			return nil
		}))
}

func newConfirmCommand() *cobra.Command {
	return verbCommand("confirm [ITEM|all]", "Confirm what the step asks for: a customary value (engine.NAME) or a thing done", bench.DoConfirm, cobra.MaximumNArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error {
			if len(args) == 1 {
				v.Item = args[0]
			}
			return nil
		})
}

func newAnswerCommand() *cobra.Command {
	return verbCommand("answer CHOICE", "Answer what the bench asks about a reading", bench.DoAnswer, cobra.MinimumNArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error {
			v.Choice = strings.Join(args, " ")
			return nil
		})
}

func newSignCommand() *cobra.Command {
	return verbCommand("sign INITIALS", "Sign the step off", bench.DoSign, cobra.ExactArgs(1),
		func(_ *cobra.Command, args []string, v *bench.Verb) error { v.Initials = args[0]; return nil })
}

func newReopenCommand() *cobra.Command {
	return withReason(verbCommand("reopen [STEP]", "Open a signed step again, with a reason", bench.DoReopen, cobra.MaximumNArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			gaugeAndReason(cmd, v)
			if len(args) == 1 {
				v.Place = &bench.Place{Step: args[0]}
			}
			return nil
		}))
}

func newOverrideCommand() *cobra.Command {
	cmd := withReason(verbCommand("override engine|limit|needs|hold|verdict|tally NAME [VALUE]",
		"Change engine data or a limit for this build, or pass over a prerequisite, with a reason that is kept and printed", bench.DoOverride, cobra.RangeArgs(2, 3),
		func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
			gaugeAndReason(cmd, v)
			o := &bench.Override{What: args[0], Name: args[1]}
			if len(args) == 3 {
				val, err := quantity.Parse(args[2])
				if err != nil {
					return err
				}
				o.Value = &val
			}
			if o.Lower, err = quantityFlag(cmd, "lower"); err != nil {
				return err
			}
			if o.Upper, err = quantityFlag(cmd, "upper"); err != nil {
				return err
			}
			v.Override = o
			return nil
		}))
	cmd.Flags().String("lower", "", "of a limit: its lower side")
	cmd.Flags().String("upper", "", "of a limit: its upper side")
	return cmd
}

func newTallyCommand() *cobra.Command {
	cmd := &cobra.Command{Use: "tally", Short: "Temporary things in the engine: what goes in must come out, whole"}
	cmd.AddCommand(
		verbCommand("in ITEM", "It goes into the engine", bench.DoTallyIn, cobra.MinimumNArgs(1), itemArg),
		func() *cobra.Command {
			out := verbCommand("out ITEM", "It comes out of the engine, counted", bench.DoTallyOut, cobra.MinimumNArgs(1), func(cmd *cobra.Command, args []string, v *bench.Verb) (err error) {
				v.Item = strings.Join(args, " ")
				v.Count, err = cmd.Flags().GetInt("count")
				return err
			})
			out.Flags().Int("count", 0, "pieces counted")
			return out
		}())
	return cmd
}

func itemArg(_ *cobra.Command, args []string, v *bench.Verb) error {
	v.Item = strings.Join(args, " ")
	return nil
}

func newDroppedCommand() *cobra.Command {
	return verbCommand("dropped WHAT", "Something fell: the build is held until it is found", bench.DoDropped, cobra.MinimumNArgs(1), itemArg)
}

func newFoundCommand() *cobra.Command {
	return verbCommand("found", "What fell is found and counted", bench.DoFound, cobra.NoArgs, nil)
}

func newAcknowledgeCommand() *cobra.Command {
	return verbCommand("acknowledge", "Say that the step's cautions were read", bench.DoAcknowledge, cobra.NoArgs, nil)
}

func newPhotoCommand() *cobra.Command {
	cmd := verbCommand("photo FILE", "Pin a photo (JPEG or PNG, at most 512 kB) to the step; it appears in the sheet", bench.DoPhoto, cobra.ExactArgs(1),
		func(cmd *cobra.Command, args []string, v *bench.Verb) error {
			b, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			kind := http.DetectContentType(b)
			if kind != "image/jpeg" && kind != "image/png" {
				return fmt.Errorf("%s is %s: want a JPEG or a PNG", args[0], kind)
			}
			note, err := cmd.Flags().GetString("note")
			v.Picture = &bench.Picture{Type: kind, Bytes: b, Note: note}
			return err
		})
	cmd.Flags().String("note", "", "what is on it")
	return cmd
}
