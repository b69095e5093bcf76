package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"sidetone/rules/library"
)

func newProceduresNew() *cobra.Command {
	return &cobra.Command{
		Use:   "new [NAME]",
		Short: "Begin a procedure of your own from a template",
		Long: `new writes a template with every setting explained to NAME.yaml in this folder.
Without NAME it prints it. It never writes over a file.`,
		Example: `  sidetone procedures new our-steep-turns
  sidetone procedures check our-steep-turns.yaml`,
		Args: atMost("NAME"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				_, err := fmt.Fprint(cmd.OutOrStdout(), library.Template("our-maneuver"))
				return err
			}
			id := strings.TrimSuffix(args[0], ".yaml")
			if !idForm.MatchString(id) {
				return usageErrorf("the name %q may only have small letters, figures and single dashes between", id)
			}
			name := id + ".yaml"
			f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
			if errors.Is(err, fs.ErrExist) {
				return fmt.Errorf("%s: is there already; choose another name or remove it first", name)
			}
			if err != nil {
				return explain(name, err)
			}
			_, err = f.WriteString(library.Template(id))
			if err := errors.Join(err, f.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s is written. Change it, then: sidetone procedures check %s\n", name, name)
			return err
		},
	}
}

var idForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// atMost wants no more than the named arguments.
func atMost(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) > len(names) {
			return usageErrorf("%s: %q is one argument too many", cmd.CommandPath(), args[len(names)])
		}
		return nil
	}
}
