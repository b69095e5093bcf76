package onnx

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sidetone/audio/audiotest"
)

// Spellings of one and the same word that are no error.
var (
	spellings = map[string]string{"alfa": "alpha", "charley": "charlie", "juliette": "juliet", "juliett": "juliet"}
	compounds = map[string]bool{
		"foxtrot": true, "xray": true, "playback": true, "keywords": true, "blacklist": true, "touchtone": true,
		"goodbye": true, "voicemail": true, "mailbox": true, "login": true, "lowercase": true, "uppercase": true,
	}
)

var (
	notWord = regexp.MustCompile(`[^a-z0-9']+`)
	numeral = regexp.MustCompile(`[0-9]+`)
)

// normalise is the normalisation word error rates are measured after: small
// letters, commas within figures dropped, figures written as words, every other
// mark a space, one spelling a word. Words that only sound alike stay apart.
func normalise(text string) []string {
	text = strings.ReplaceAll(strings.ToLower(text), "’", "'")
	text = regexp.MustCompile(`([0-9]),([0-9]{3})`).ReplaceAllString(text, "$1$2")
	text = numeral.ReplaceAllStringFunc(text, func(s string) string { return " " + spoken(s) + " " })
	var words []string
	for _, w := range strings.Fields(notWord.ReplaceAllString(text, " ")) {
		if s, ok := spellings[w]; ok {
			w = s
		}
		if n := len(words); n > 0 && compounds[words[n-1]+w] {
			words[n-1] += w
			continue
		}
		words = append(words, w)
	}
	return words
}

var (
	small = strings.Fields("zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen")
	tens  = strings.Fields("_ _ twenty thirty forty fifty sixty seventy eighty ninety")
)

// spoken writes a figure of up to four digits as a cardinal number, a longer
// one or one that begins with zero digit by digit.
func spoken(figure string) string {
	n, err := strconv.Atoi(figure)
	if err != nil || len(figure) > 4 || figure[0] == '0' && len(figure) > 1 {
		var words []string
		for _, d := range figure {
			words = append(words, small[d-'0'])
		}
		return strings.Join(words, " ")
	}
	var words []string
	if n >= 1000 {
		words = append(words, small[n/1000], "thousand")
		n %= 1000
	}
	if n >= 100 {
		words = append(words, small[n/100], "hundred")
		n %= 100
	}
	switch {
	case n >= 20:
		words = append(words, tens[n/10])
		if n%10 > 0 {
			words = append(words, small[n%10])
		}
	case n > 0 || len(words) == 0:
		words = append(words, small[n])
	}
	return strings.Join(words, " ")
}

// count is the errors in some words.
type count struct{ words, substituted, deleted, inserted int }

func (c count) errors() int   { return c.substituted + c.deleted + c.inserted }
func (c count) rate() float64 { return 100 * float64(c.errors()) / float64(max(1, c.words)) }
func (c *count) add(o count) {
	c.words += o.words
	c.substituted += o.substituted
	c.deleted += o.deleted
	c.inserted += o.inserted
}

// align counts the errors of said against meant, aligned as sclite does: a
// substitution costs 4, a deletion or an insertion 3 (its manual page), the
// fewest errors where that is a tie.
func align(meant, said []string) count {
	type cell struct {
		cost int
		n    count
	}
	better := func(a, b cell) cell {
		if b.cost < a.cost || b.cost == a.cost && b.n.errors() < a.n.errors() {
			return b
		}
		return a
	}
	row := make([]cell, len(said)+1)
	for j := range row {
		row[j] = cell{3 * j, count{inserted: j}}
	}
	for i, m := range meant {
		diagonal := row[0]
		row[0] = cell{3 * (i + 1), count{deleted: i + 1}}
		for j, s := range said {
			hit := diagonal
			if m != s {
				hit.cost += 4
				hit.n.substituted++
			}
			del, ins := row[j+1], row[j]
			del.cost, ins.cost = del.cost+3, ins.cost+3
			del.n.deleted++
			ins.n.inserted++
			diagonal = row[j+1]
			row[j+1] = better(better(hit, del), ins)
		}
	}
	n := row[len(said)].n
	n.words = len(meant)
	return n
}

var sum = regexp.MustCompile(`(?m)^\s*\|\s*Sum\s*\|\s*\d+\s+(\d+)\s*\|\s*\d+\s+(\d+)\s+(\d+)\s+(\d+)\s`)

// sclite counts the errors with NIST's sclite (Debian's sctk).
func sclite(tb testing.TB, meant, said [][]string) count {
	tb.Helper()
	dir := tb.TempDir()
	write := func(name string, lines [][]string) string {
		var b strings.Builder
		for i, l := range lines {
			fmt.Fprintf(&b, "%s (voice-%04d)\n", strings.Join(l, " "), i)
		}
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			tb.Fatal(err)
		}
		return path
	}
	out := audiotest.Run(tb, "sctk", "sclite", "-r", write("ref.trn", meant), "trn",
		"-h", write("hyp.trn", said), "trn", "-i", "spu_id", "-o", "rsum", "stdout")
	m := sum.FindSubmatch(out)
	if m == nil {
		tb.Fatalf("sclite gave no sum:\n%s", out)
	}
	n := make([]int, len(m))
	for i := range m {
		n[i], _ = strconv.Atoi(string(m[i]))
	}
	return count{n[1], n[2], n[3], n[4]}
}

func TestTextIsNormalisedBeforeErrorsAreCounted(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"Press 1 now, please.", "press one now please"},
		{"X-ray, Fox trot! Key words", "xray foxtrot keywords"},
		{"fox trot fox trot", "foxtrot foxtrot"},
		{"3,500 feet", "three thousand five hundred feet"},
		{"That's 11 or 42", "that's eleven or forty two"},
		{"0 10 100 1015", "zero ten one hundred one thousand fifteen"},
		{"007 12345", "zero zero seven one two three four five"},
		{"...", ""},
	} {
		if got := strings.Join(normalise(c.text), " "); got != c.want {
			t.Errorf("%q is normalised to %q, want %q", c.text, got, c.want)
		}
	}
}

func TestErrorsAreCountedAsScliteCountsThem(t *testing.T) {
	var meant, said [][]string
	var own count
	for _, c := range []struct {
		meant, said string
		want        int
	}{
		{"carb heat on", "carb heat on", 0},
		{"carb heat on", "car beat on", 2},
		{"trim set", "", 2},
		{"flaps", "the flaps are", 2},
		{"a b c d", "b c d e", 2},
		{"please try again later", "please again later now and then", 4},
	} {
		m, s := strings.Fields(c.meant), strings.Fields(c.said)
		n := align(m, s)
		if n.errors() != c.want {
			t.Errorf("%q heard as %q has %d errors, want %d", c.meant, c.said, n.errors(), c.want)
		}
		own.add(n)
		meant, said = append(meant, m), append(said, s)
	}
	if nist := sclite(t, meant, said); nist != own {
		t.Errorf("sclite counts %+v, this package %+v", nist, own)
	}
}
