package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// usageError is a command line that cannot be understood: exit status 2.
type usageError struct{ error }

func (e usageError) Unwrap() error { return e.error }

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "sidetone",
		Short: "Hear the callouts of a flying lesson and write the debrief",
		Long: `sidetone listens to the recording of a flying lesson, hears the spoken
callouts, holds them against the ordered procedure for the aircraft, and
writes the debrief: what was heard and when, what was not heard, and what came
out of order, late or with another value.

A training aid for use on the ground. Not for use in flight. The aircraft's own
POH/AFM, the current standards and a qualified instructor decide. Recording
people needs their consent under local law. Audio stays on this machine, unless
you name a remote recogniser.`,
		Example: `  sidetone debrief lesson.wav
  sidetone debrief lesson.wav --procedure slow-flight-clean
  sidetone desk lesson.wav --open
  sidetone procedures list`,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageErrorf("%q is not a command", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.SetUsageTemplate(strings.ReplaceAll(root.UsageTemplate(), ".FlagUsages", ".FlagUsagesWrapped 80"))
	root.AddCommand(newDebrief(), newDesk(), newProcedures(), newLendEars(), newSetup(), newVersion())
	return root
}

// oneLine keeps an error to one line.
func oneLine(err error) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(err.Error(), "\n", "; ")), " ")
}
