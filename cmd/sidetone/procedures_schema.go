package main

import (
	"github.com/spf13/cobra"

	"sidetone/rules/schema"
)

func newProceduresSchema() *cobra.Command {
	kinds := []string{"procedure", "aircraft"}
	return &cobra.Command{
		Use:   "schema [procedure|aircraft]",
		Short: "Print the JSON Schema of the files, for editors to complete from",
		Long: `schema prints the JSON Schema (draft 2020-12) of procedure files, or of aircraft
files. Editors that know YAML complete settings from it and mark mistakes as they
are made. Most are told of it by a first line in the file:

  # yaml-language-server: $schema=procedure.schema.json`,
		Example: `  sidetone procedures schema > procedure.schema.json
  sidetone procedures schema aircraft > aircraft.schema.json`,
		Args:      atMost("procedure or aircraft"),
		ValidArgs: kinds,
		RunE: func(cmd *cobra.Command, args []string) error {
			text := schema.Procedure
			switch {
			case len(args) == 0, args[0] == "procedure":
			case args[0] == "aircraft":
				text = schema.Aircraft
			default:
				return usageErrorf("no schema is called %q; there are: procedure, aircraft", args[0])
			}
			_, err := cmd.OutOrStdout().Write(text)
			return err
		},
	}
}
