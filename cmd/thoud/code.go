package main

import (
	"bufio"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/monitor"
)

func newCodeCommand() *cobra.Command {
	return &cobra.Command{Use: "code", Short: "Make the hash of an access code for thoud.toml; the code is read from standard input", Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			in := bufio.NewScanner(cmd.InOrStdin())
			if !in.Scan() || strings.TrimSpace(in.Text()) == "" {
				return errors.Join(errors.New("no code was given: type it and press Enter"), in.Err())
			}
			hash, err := monitor.HashCode(strings.TrimSpace(in.Text()))
			if err != nil {
				return err
			}
			if wantJSON(cmd) {
				return printJSON(cmd.OutOrStdout(), map[string]string{"hash": hash})
			}
			fmt.Fprintf(cmd.OutOrStdout(), "put into %s:\n[monitor]\nwork_code = %q   # or look_code, for those who only look\n", service.SettingsName, hash)
			return nil
		}}
}
