package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func usageErrorf(format string, args ...any) error {
	return usageError{fmt.Errorf(format, args...)}
}

// exactly wants the named arguments, no more and no fewer.
func exactly(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return usageErrorf("%s: %s is missing", cmd.CommandPath(), names[len(args)])
		}
		if len(args) > len(names) {
			return usageErrorf("%s: %q is one argument too many", cmd.CommandPath(), args[len(names)])
		}
		return nil
	}
}

// atLeast wants the named argument once or more.
func atLeast(name string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usageErrorf("%s: %s is missing", cmd.CommandPath(), name)
		}
		return nil
	}
}
