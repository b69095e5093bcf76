package main

import (
	"fmt"

	"sidetone/audio/hear"
)

// crosstalkNotes say what of the words was heard on several channels.
func crosstalkNotes(c hear.Crosstalk) (notes []string) {
	if n := c.Words + c.Moved; n > 0 {
		notes = append(notes, fmt.Sprintf("Cross-talk: %s of one seat, heard on the other's channel as well, only fainter, counted once, for the seat that spoke.", wordsText(n)))
	}
	if c.Shared > 0 {
		notes = append(notes, fmt.Sprintf("%s, as loud on both channels, counted once; who spoke is not known (the radio, most likely).", wordsText(c.Shared)))
	}
	return notes
}

func wordsText(n int) string {
	if n == 1 {
		return "1 word"
	}
	return fmt.Sprintf("%d words", n)
}
