package audio

import (
	"bytes"
	"unicode/utf8"
)

// looksLikeText says whether the first bytes of a file are text. ffmpeg has
// demuxers that make sound or pictures of text, or follow the names in it.
func looksLikeText(head []byte) bool {
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && n == 1 {
			return !utf8.FullRune(head) // cut in the middle of a letter
		}
		if r < ' ' && r != '\n' && r != '\r' && r != '\t' && r != '\f' {
			return false
		}
		head = head[n:]
	}
	return true
}
