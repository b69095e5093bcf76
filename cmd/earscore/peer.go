package main

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"sidetone/audio"
	"sidetone/audio/hear"
	"sidetone/audio/models"
	"sidetone/audio/transcript"
)

// peerModel is where Debian's pocketsphinx-en-us puts its model.
const peerModel = "/usr/share/pocketsphinx/model/en-us"

// peer listens with Debian's pocketsphinx (packages pocketsphinx and
// pocketsphinx-en-us) to the same segments, in one run for all lessons so that
// its model is loaded once. Its words carry no confidence.
type peer struct{ set models.Set }

func (peer) close() error { return nil }

func (p peer) hear(ctx context.Context, lessons []*made) error {
	dir, err := os.MkdirTemp("", "earscore")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	var mu sync.Mutex
	var control strings.Builder
	var total float64
	lengths := make([]float64, len(lessons))
	for i, m := range lessons {
		n := 0
		keep := collector{func(seg audio.Segment) (string, error) {
			mu.Lock()
			defer mu.Unlock()
			word := fmt.Sprintf("s%d-%d", i, n)
			n++
			lengths[i] += seg.End() - seg.Start
			total += seg.End() - seg.Start
			fmt.Fprintln(&control, word)
			f, err := os.Create(filepath.Join(dir, word+".wav"))
			if err != nil {
				return "", err
			}
			if err := audio.WriteWAV(f, audio.Rate, seg.Samples); err != nil {
				f.Close()
				return "", err
			}
			return word, f.Close()
		}}
		if err := m.listen(ctx, p.set, keep, options{workers: 1, cleaning: hear.DefaultCleaning}); err != nil {
			return err
		}
	}
	list := filepath.Join(dir, "segments")
	if err := os.WriteFile(list, []byte(control.String()), 0o600); err != nil {
		return err
	}
	began := time.Now()
	cmd := exec.CommandContext(ctx, "pocketsphinx_batch",
		"-adcin", "yes", "-adchdr", "44", "-cepdir", dir, "-cepext", ".wav", "-ctl", list,
		"-hypseg", filepath.Join(dir, "words"), "-logfn", filepath.Join(dir, "log"),
		"-remove_silence", "no", // it would shift the times, and the segments are cut already
		"-hmm", filepath.Join(peerModel, "en-us"), "-lm", filepath.Join(peerModel, "en-us.lm.bin"),
		"-dict", filepath.Join(peerModel, "cmudict-en-us.dict"))
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("pocketsphinx_batch (Debian packages pocketsphinx and pocketsphinx-en-us): %w: %s", err, out)
	}
	took := time.Since(began).Seconds()
	words, err := segmentWords(filepath.Join(dir, "words"))
	if err != nil {
		return err
	}
	for i, m := range lessons {
		if total > 0 {
			m.took += took * lengths[i] / total
		}
		var kept []transcript.Utterance
		for _, u := range m.words.Utterances {
			u.Words = words[u.Text]
			var texts []string
			for k := range u.Words {
				u.Words[k].Start += u.Start
				u.Words[k].End += u.Start
				texts = append(texts, u.Words[k].Text)
			}
			if u.Text = strings.Join(texts, " "); len(texts) > 0 {
				kept = append(kept, u)
			}
		}
		m.words.Utterances = kept
	}
	return nil
}

// framesPerSecond of pocketsphinx's front end, as it is set when not told otherwise.
const framesPerSecond = 100

// segmentWords reads pocketsphinx's file of words with their first frames: for
// each segment its words in seconds from its start.
func segmentWords(file string) (map[string][]transcript.Word, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	out := map[string][]transcript.Word{}
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		id, words, err := readSegment(lines.Text())
		if err != nil {
			return nil, fmt.Errorf("pocketsphinx: %w: %q", err, lines.Text())
		}
		out[id] = words
	}
	return out, lines.Err()
}

// readSegment reads one line: the segment, S T A L with their figures, then for
// each word its first frame, two scores and the word, and the frame of the end.
func readSegment(line string) (string, []transcript.Word, error) {
	f := strings.Fields(line)
	if len(f) < 9 {
		return "", nil, nil
	}
	var words []transcript.Word
	rest := f[9:]
	for len(rest) >= 5 {
		from, err1 := strconv.Atoi(rest[0])
		to, err2 := strconv.Atoi(rest[4])
		if err1 != nil || err2 != nil {
			return "", nil, fmt.Errorf("no frames where they are expected")
		}
		word := rest[3]
		if i := strings.IndexByte(word, '('); i > 0 { // another pronunciation
			word = word[:i]
		}
		if !strings.ContainsAny(word[:1], "<[+") { // fillers
			words = append(words, transcript.Word{Text: word, Confidence: 1,
				Start: float64(from) / framesPerSecond, End: float64(to) / framesPerSecond})
		}
		rest = rest[4:]
	}
	return f[0], words, nil
}
