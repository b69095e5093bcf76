package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"sidetone/timeline/desk"
	"sidetone/timeline/logbook"
)

func newDeskList() *cobra.Command {
	var dir string
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the lessons of the library, with their numbers",
		Args:  exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return listLessons(cmd.Context(), dir, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&dir, "library", "", "folder of the library (default: in the user's data folder)")
	return cmd
}

func newDeskRemove() *cobra.Command {
	var dir string
	var yes bool
	cmd := &cobra.Command{
		Use:   "remove LESSON",
		Short: "Remove a lesson from the library, with the desk's own copies of its sound",
		Long: `remove says what would go with a lesson and what stays, and removes it with --yes.
LESSON is its number: "sidetone desk list" tells it, and the address of its page.

What was heard in it and what people wrote of it goes, and so do the desk's own copies:
the recording that was dropped on the page or copied by --copy, and the small sound made
to be played. A recording that lies elsewhere stays. A desk that is open notices.`,
		Example: `  sidetone desk list
  sidetone desk remove 3
  sidetone desk remove 3 --yes`,
		Args: exactly("LESSON"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return removeLesson(cmd.Context(), dir, args[0], yes, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&dir, "library", "", "folder of the library (default: in the user's data folder)")
	cmd.Flags().BoolVar(&yes, "yes", false, "remove it")
	return cmd
}

// libraryDir is the folder of the library.
func libraryDir(asked string) (string, error) {
	if asked != "" {
		return asked, nil
	}
	dir, err := logbook.UserDir()
	if err != nil {
		return "", fmt.Errorf("no data folder was found: %w; name one with --library", err)
	}
	return dir, nil
}

// openLibrary opens a library that is there; it makes none.
func openLibrary(ctx context.Context, asked string) (*logbook.Book, error) {
	dir, err := libraryDir(asked)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(filepath.Join(dir, logbook.FileName)); err != nil {
		return nil, fmt.Errorf("there is no library in %s yet; sidetone desk begins one, --library names another", dir)
	}
	return logbook.Open(ctx, dir)
}

func listLessons(ctx context.Context, dir string, out io.Writer) error {
	book, err := openLibrary(ctx, dir)
	if err != nil {
		return err
	}
	defer book.Close()
	lessons, err := book.Lessons(ctx)
	if err != nil {
		return err
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "LESSON\tDATE\tSTUDENT\tTITLE\tIN ONE LINE")
	for _, l := range lessons {
		line := l.Result
		switch l.Stage {
		case logbook.Waiting:
			line = "not listened to yet"
		case logbook.Failed:
			line = "could not be heard: " + l.Trouble
		}
		fmt.Fprintf(w, "%d\t%s\t%s\t%s\t%s\n", l.ID, l.Flown, l.Student, l.Title, line)
	}
	return w.Flush()
}

func removeLesson(ctx context.Context, dir, lesson string, yes bool, out io.Writer) error {
	id, err := strconv.ParseInt(lesson, 10, 64)
	if err != nil || id <= 0 {
		return usageErrorf("%q is not the number of a lesson; sidetone desk list tells them", lesson)
	}
	book, err := openLibrary(ctx, dir)
	if err != nil {
		return err
	}
	defer book.Close()
	what, err := book.Removal(ctx, id)
	if err != nil {
		return fmt.Errorf("%w; sidetone desk list tells those that are", err)
	}
	files, err := book.Files(ctx, id)
	if err != nil {
		return err
	}
	if yes {
		if _, err := book.Remove(ctx, id); err != nil {
			return err
		}
		fmt.Fprintf(out, "Lesson %d, %s, was removed:\n", id, what.Lesson.Title)
	} else {
		fmt.Fprintf(out, "With lesson %d, %s, would go:\n", id, what.Lesson.Title)
	}
	goes, stays := desk.Told(what, files, book.RecordingsDir())
	for _, s := range goes {
		fmt.Fprintln(out, "  "+s)
	}
	for _, s := range stays {
		fmt.Fprintln(out, s)
	}
	if !yes {
		fmt.Fprintln(out, "Nothing was removed; add --yes to remove it.")
	}
	return nil
}
