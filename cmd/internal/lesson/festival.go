package lesson

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// festivalScript speaks one text and prints, for each token of it, when the
// sounds of its words begin and end.
const festivalScript = `(voice_%s)
(set! utt (Utterance Text "%s"))
(utt.synth utt)
(utt.save.wave utt "%s" 'riff)
(mapcar
 (lambda (token)
  (if (not (item.parent token)) (begin
   (format t "TOKEN %%s\n" (item.name token))
   (mapcar
    (lambda (word)
     (format t "TIMES %%f %%f\n"
      (item.feat word "word_start") (item.feat word "word_end")))
    (item.daughters token)))))
 (utt.relation.items utt 'Token))
`

// sayFestival speaks with festival, whose utterance tells when each word is said.
func sayFestival(voice string, words []string) (Speech, error) {
	dir, err := os.MkdirTemp("", "lesson")
	if err != nil {
		return Speech{}, err
	}
	defer os.RemoveAll(dir)
	wave, script := filepath.Join(dir, "line.wav"), filepath.Join(dir, "line.scm")
	text := strings.Join(words, " ") // sayable allows no quotes and no backslashes
	if err := os.WriteFile(script, fmt.Appendf(nil, festivalScript, voice, text, wave), 0o600); err != nil {
		return Speech{}, err
	}
	var out, complaint bytes.Buffer
	cmd := exec.Command("festival", "-b", script)
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		return Speech{}, fmt.Errorf("festival (Debian packages festival and festvox-kallpc16k): %w: %s", err, strings.TrimSpace(complaint.String()))
	}
	sp := Speech{Begins: make([]float64, len(words)), Ends: make([]float64, len(words))}
	for i := range words {
		sp.Begins[i] = -1
	}
	at, left := -1, "" // the word being said, and what of its spelling is still to come
	for l := range strings.Lines(out.String()) {
		f := strings.Fields(l)
		switch {
		case len(f) == 2 && f[0] == "TOKEN":
			name := letters(f[1])
			if left == "" || !strings.HasPrefix(left, name) {
				at++
				if at >= len(words) || !strings.HasPrefix(letters(words[at]), name) {
					return Speech{}, fmt.Errorf("festival says %q where %q is written", f[1], text)
				}
				left = letters(words[at])
			}
			left = strings.TrimPrefix(left, name)
		case len(f) == 3 && f[0] == "TIMES" && at >= 0:
			begin, err1 := strconv.ParseFloat(f[1], 64)
			end, err2 := strconv.ParseFloat(f[2], 64)
			if err1 != nil || err2 != nil {
				return Speech{}, fmt.Errorf("festival: %q", l)
			}
			if end == 0 {
				continue // punctuation
			}
			if sp.Begins[at] < 0 {
				sp.Begins[at] = begin
			}
			sp.Ends[at] = end
		}
	}
	if at < 0 {
		return Speech{}, fmt.Errorf("festival said nothing for %q: %s", text, strings.TrimSpace(complaint.String()))
	}
	if sp.Samples, err = Load(wave); err != nil {
		return Speech{}, err
	}
	sp.unspoken(words)
	return sp, nil
}
