package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

func newProceduresShow() *cobra.Command {
	var source bool
	var aircraft string
	cmd := &cobra.Command{
		Use:   "show NAME",
		Short: "Print the card of a procedure to study, or the facts of an aircraft",
		Long: `show prints a procedure as a card: what to say, in which order, with which
figures, and where that is from, made out for the aircraft. NAME is a built-in
procedure or aircraft, or a file of your own.

With --yaml it prints the file instead. Copy it, change it, and give it back
with --procedure or --aircraft.`,
		Example: `  sidetone procedures show slow-flight-clean
  sidetone procedures show slow-flight-clean --aircraft ours.yaml
  sidetone procedures show trainer --yaml > ours.yaml`,
		Args:              exactly("NAME"),
		ValidArgsFunction: completeProcedures,
		RunE: func(cmd *cobra.Command, args []string) error {
			text, err := show(args[0], aircraft, source)
			if err != nil {
				return err
			}
			_, err = cmd.OutOrStdout().Write([]byte(text))
			return err
		},
	}
	cmd.Flags().BoolVar(&source, "yaml", false, "print the YAML it is written in")
	cmd.Flags().StringVar(&aircraft, "aircraft", "", "make it out for this aircraft: a built-in name or a YAML file (default the generic trainer)")
	_ = cmd.RegisterFlagCompletionFunc("aircraft", completeAircraft)
	return cmd
}

func show(name, aircraft string, source bool) (string, error) {
	text, err := sourceText(name)
	if err != nil {
		return "", err
	}
	if source {
		return string(text), nil
	}
	if isAircraft(text) {
		ac, err := rules.ParseAircraft(name, text)
		if err != nil {
			return "", err
		}
		return aircraftCard(ac), nil
	}
	p, err := library.ParseProcedure(name, text)
	if err != nil {
		return "", err
	}
	lexicon, err := callouts.Builtin()
	if err != nil {
		return "", err
	}
	if err := knows(lexicon, p); err != nil {
		return "", err
	}
	ac, err := aircraftToShow(p, aircraft)
	if err != nil {
		return "", err
	}
	plan, err := rules.Bind(p, ac)
	if err != nil {
		return "", err
	}
	return procedureCard(plan, lexicon), nil
}

// sourceText is the file of a built-in procedure or aircraft, or one of the user's.
func sourceText(name string) ([]byte, error) {
	if isFile(name) {
		b, err := os.ReadFile(name)
		if err != nil {
			return nil, explain(name, err)
		}
		return b, nil
	}
	b, err := library.Source(strings.ToLower(name))
	if err != nil {
		return nil, usageError{fmt.Errorf("%w; see: sidetone procedures list", err)}
	}
	return b, nil
}

// aircraftToShow is the one asked for, or else the first the procedure is for.
func aircraftToShow(p *rules.Procedure, named string) (*rules.Aircraft, error) {
	fleet, err := fleetFor(named, nil)
	if err != nil {
		return nil, err
	}
	for _, ac := range fleet {
		if _, err := rules.Bind(p, ac); err == nil {
			return ac, nil
		}
	}
	return fleet[0], nil
}
