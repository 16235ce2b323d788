package main

import (
	"fmt"
	"net/http"
	"os"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

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
