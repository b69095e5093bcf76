package main

import (
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sidetone/callouts"
	"sidetone/rules"
	"sidetone/rules/library"
)

// isFile says whether the user means a file and not a built-in name.
func isFile(arg string) bool {
	ext := strings.ToLower(filepath.Ext(arg))
	return ext == ".yaml" || ext == ".yml" || strings.ContainsRune(arg, filepath.Separator) || strings.Contains(arg, "/")
}

// chooseProcedures resolves what --procedure names; none is nil. Every call a
// procedure listens for must be in the lexicon.
func chooseProcedures(args []string, lexicon *callouts.Lexicon) ([]*rules.Procedure, error) {
	var out []*rules.Procedure
	for _, arg := range args {
		p, err := chooseProcedure(arg)
		if err != nil {
			return nil, err
		}
		if err := knows(lexicon, p); err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

func chooseProcedure(arg string) (*rules.Procedure, error) {
	if !isFile(arg) {
		p, err := library.Procedure(arg)
		if err != nil {
			return nil, usageError{err}
		}
		return p, nil
	}
	b, err := os.ReadFile(arg)
	if err != nil {
		return nil, explain(arg, err)
	}
	return library.ParseProcedure(arg, b)
}

func chooseAircraft(arg string) (*rules.Aircraft, error) {
	switch {
	case arg == "":
		return library.DefaultAircraft()
	case !isFile(arg):
		ac, err := library.Aircraft(arg)
		if err != nil {
			return nil, usageError{err}
		}
		return ac, nil
	}
	b, err := os.ReadFile(arg)
	if err != nil {
		return nil, explain(arg, err)
	}
	return rules.ParseAircraft(arg, b)
}

// knows says whether every callout of a procedure is in the lexicon, or brought
// along by the procedure, and every phrase it brings along can be found.
func knows(lexicon *callouts.Lexicon, p *rules.Procedure) error {
	_, err := rules.Check(p, lexicon, nil)
	return err
}

// withPhrases is the lexicon with the phrases the procedures bring along.
func withPhrases(lexicon *callouts.Lexicon, procs []*rules.Procedure) *callouts.Lexicon {
	for _, p := range procs {
		lexicon = lexicon.With(p.Phrases()...)
	}
	return lexicon
}

func completeProcedures(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	all, err := library.Procedures()
	if err != nil {
		return nil, cobra.ShellCompDirectiveError
	}
	var names []string
	for _, p := range all {
		names = append(names, p.ID+"\t"+p.Title)
	}
	return names, cobra.ShellCompDirectiveDefault
}

func completeAircraft(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	all, err := library.AllAircraft()
	if err != nil {
		return nil, cobra.ShellCompDirectiveError
	}
	var names []string
	for _, a := range all {
		names = append(names, a.ID+"\t"+a.Title)
	}
	return names, cobra.ShellCompDirectiveDefault
}
