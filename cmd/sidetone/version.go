package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"sidetone/timeline"
)

// version is set by the Makefile when building from a tag.
var version = "development"

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version of the program and of the debrief's JSON",
		Args:  exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			revision := ""
			if info, ok := debug.ReadBuildInfo(); ok {
				for _, s := range info.Settings {
					if s.Key == "vcs.revision" && len(s.Value) >= 12 {
						revision = " (" + s.Value[:12] + ")"
					}
				}
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "sidetone %s%s, debrief JSON version %d, %s %s/%s\n",
				version, revision, timeline.Version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
}
