package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

func newProceduresCheck() *cobra.Command {
	var aircraft string
	cmd := &cobra.Command{
		Use:   "check FILE...",
		Short: "Say all that is wrong in files of procedures and aircraft, and where",
		Long: `check reads procedures, changes to built-in procedures and aircraft, and lists
every mistake with its file, line and column, and what was probably meant.

Procedures are tried with --aircraft, or with the aircraft among the files, or
else with the built-in ones. Exit status: 0 when all is well, 1 when not.`,
		Example: `  sidetone procedures check ours.yaml
  sidetone procedures check flow.yaml our-airplane.yaml`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageErrorf("%s: FILE is missing", cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			return checkFiles(cmd.OutOrStdout(), args, aircraft)
		},
	}
	cmd.Flags().StringVar(&aircraft, "aircraft", "", "try procedures with this aircraft: a built-in name or a YAML file")
	_ = cmd.RegisterFlagCompletionFunc("aircraft", completeAircraft)
	return cmd
}

// checked is a file looked over.
type checked struct {
	name     string
	text     []byte
	craft    *rules.Aircraft // nil for a procedure
	err      error
	remark   string
	problems []*rules.SourceError
}

func checkFiles(w io.Writer, names []string, aircraft string) error {
	lexicon, err := callouts.Builtin()
	if err != nil {
		return err
	}
	files := make([]checked, len(names))
	var own []*rules.Aircraft
	for i, name := range names {
		f := &files[i]
		f.name = name
		if f.text, err = os.ReadFile(name); err != nil {
			f.err = explain(name, err)
			continue
		}
		if isAircraft(f.text) {
			if f.craft, err = rules.ParseAircraft(name, f.text); err != nil {
				f.problems = rules.Problems(err)
				continue
			}
			own = append(own, f.craft)
			f.remark = fmt.Sprintf("aircraft %s, %d facts", f.craft.ID, len(f.craft.Facts))
		}
	}
	fleet, err := fleetFor(aircraft, own)
	if err != nil {
		return err
	}
	bad := 0
	for i := range files {
		f := &files[i]
		if f.err == nil && f.craft == nil && f.problems == nil {
			f.procedure(lexicon, fleet)
		}
		if err := f.tell(w); err != nil {
			return err
		}
		if f.err != nil || len(f.problems) > 0 {
			bad++
		}
	}
	switch {
	case bad == 0:
		return nil
	case len(files) == 1:
		return fmt.Errorf("%s is not in order", files[0].name)
	}
	return fmt.Errorf("%d of %d files are not in order", bad, len(files))
}

// fleetFor are the aircraft procedures are tried with.
func fleetFor(named string, own []*rules.Aircraft) ([]*rules.Aircraft, error) {
	if named != "" {
		ac, err := chooseAircraft(named)
		return []*rules.Aircraft{ac}, err
	}
	if len(own) > 0 {
		return own, nil
	}
	first, err := library.DefaultAircraft()
	if err != nil {
		return nil, err
	}
	all, err := library.AllAircraft()
	if err != nil {
		return nil, err
	}
	fleet := []*rules.Aircraft{first}
	for _, ac := range all {
		if ac.ID != first.ID {
			fleet = append(fleet, ac)
		}
	}
	return fleet, nil
}

var (
	factsLine     = regexp.MustCompile(`(?m)^facts\s*:`)
	procedureLine = regexp.MustCompile(`(?m)^(phases|extends|holds|nevers)\s*:`)
)

// isAircraft tells the two kinds of file apart by their settings.
func isAircraft(text []byte) bool { return factsLine.Match(text) && !procedureLine.Match(text) }

func (f *checked) procedure(lexicon *callouts.Lexicon, fleet []*rules.Aircraft) {
	p, fit, err := rules.CheckSource(library.SourceOf, f.name, f.text, lexicon, fleet)
	f.problems = rules.Problems(err)
	if len(f.problems) > 0 {
		return
	}
	var ids []string
	for _, ac := range fit {
		ids = append(ids, ac.ID)
	}
	f.remark = fmt.Sprintf("procedure %s, %d steps", p.ID, len(p.Steps()))
	if len(ids) > 0 {
		f.remark += ", for " + strings.Join(ids, " and ")
	} else {
		f.remark += ", for none of the aircraft it was tried with"
	}
}

// tell lists what is wrong, each with the line it is in, or says that all is well.
func (f *checked) tell(w io.Writer) error {
	var b strings.Builder
	if f.err != nil {
		fmt.Fprintln(&b, f.err)
	}
	lines := strings.Split(string(f.text), "\n")
	for _, p := range f.problems {
		fmt.Fprintln(&b, p)
		if p.File != f.name || p.Line > len(lines) {
			continue
		}
		line := strings.ReplaceAll(strings.TrimRight(lines[p.Line-1], "\r"), "\t", " ")
		if p.Column-1 > len([]rune(line)) || strings.TrimSpace(line) == "" {
			continue
		}
		fmt.Fprintf(&b, "%5d | %s\n      | %s^\n", p.Line, line, strings.Repeat(" ", p.Column-1))
	}
	if f.err == nil && len(f.problems) == 0 {
		fmt.Fprintf(&b, "%s: ok (%s)\n", f.name, f.remark)
	}
	_, err := io.WriteString(w, b.String())
	return errors.Join(err)
}
