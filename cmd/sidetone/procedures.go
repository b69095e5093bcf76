package main

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sidetone/rules/library"
)

func newProcedures() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "procedures",
		Short: "List, show, check and begin the procedures lessons are held against",
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageErrorf("%q is not a command of procedures; there are: list, show, check, new, schema", args[0])
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newProceduresList(), newProceduresShow(), newProceduresCheck(), newProceduresNew(), newProceduresSchema())
	return cmd
}

func newProceduresList() *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the built-in procedures and aircraft",
		Args:  exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			procs, err := library.Procedures()
			if err != nil {
				return err
			}
			aircraft, err := library.AllAircraft()
			if err != nil {
				return err
			}
			w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "PROCEDURE\t")
			for _, p := range procs {
				fmt.Fprintf(w, "%s\t%s\n", p.ID, p.Title)
			}
			fmt.Fprintln(w, "\t\nAIRCRAFT\t")
			for _, a := range aircraft {
				fmt.Fprintf(w, "%s\t%s\n", a.ID, a.Title)
			}
			return w.Flush()
		},
	}
}
