package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"sync"

	"sidetone/cmd/internal/lesson"
)

// speak has every line spoken into its file, those there already left alone.
// Several work at once.
func speak(ctx context.Context, lines []line, workers int, progress func(done, all int)) error {
	var jobs [][]line
	batches := map[lesson.Voice][]line{}
	all := 0
	for _, l := range lines {
		if st, err := os.Stat(l.file); err == nil && st.Size() > 0 {
			continue
		}
		all++
		if l.voice.Engine != "festival" {
			jobs = append(jobs, []line{l})
			continue
		}
		// Festival is slow to start: it takes many lines at a time.
		if b := append(batches[l.voice], l); len(b) == 100 {
			jobs, batches[l.voice] = append(jobs, b), nil
		} else {
			batches[l.voice] = b
		}
	}
	for _, b := range batches {
		if len(b) > 0 {
			jobs = append(jobs, b)
		}
	}
	var mu sync.Mutex
	done := 0
	return inParallel(ctx, workers, len(jobs), func(i int) error {
		if err := sayAll(ctx, jobs[i]); err != nil {
			return err
		}
		mu.Lock()
		defer mu.Unlock()
		done += len(jobs[i])
		progress(done, all)
		return nil
	})
}

// sayAll speaks lines of one voice; several only with festival.
func sayAll(ctx context.Context, lines []line) error {
	v := lines[0].voice
	drawl := fmt.Sprintf("%.2f", lines[0].drawl)
	var tool *exec.Cmd
	switch v.Engine {
	case "flite":
		tool = exec.CommandContext(ctx, "flite", "-voice", v.Name, "--setf", "duration_stretch="+drawl, "-t", lines[0].text, "-o", part(lines[0]))
	case "espeak-ng":
		const usual = 175 // words a minute
		pace := strconv.Itoa(int(usual / lines[0].drawl))
		tool = exec.CommandContext(ctx, "espeak-ng", "-v", v.Name, "-s", pace, "-w", part(lines[0]), "--", lines[0].text)
	case "festival":
		tool = exec.CommandContext(ctx, "festival", "-b", "/dev/stdin")
		tool.Stdin = bytes.NewReader(festivalScript(v.Name, lines))
	default:
		return fmt.Errorf("no engine is called %q", v.Engine)
	}
	if out, err := tool.CombinedOutput(); err != nil {
		return fmt.Errorf("%s, %q: %w: %s", v, lines[0].text, err, bytes.TrimSpace(out))
	}
	var errs []error
	for _, l := range lines {
		errs = append(errs, os.Rename(part(l), l.file))
	}
	return errors.Join(errs...)
}

// part is the file of a line that is being spoken: what is there under its own
// name is whole.
func part(l line) string { return strings.TrimSuffix(l.file, ".wav") + ".part" }

func festivalScript(voice string, lines []line) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "(voice_%s)\n", voice)
	for _, l := range lines { // of letters, apostrophes and spaces
		fmt.Fprintf(&b, "(Parameter.set 'Duration_Stretch %.2f)\n", l.drawl)
		fmt.Fprintf(&b, "(utt.save.wave (utt.synth (Utterance Text %q)) %q 'riff)\n", l.text, part(l))
	}
	return b.Bytes()
}
