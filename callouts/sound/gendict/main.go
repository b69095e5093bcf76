// Command gendict packs the CMU Pronouncing Dictionary, as the npm package
// cmu-pronouncing-dictionary carries it, into the form the package sound
// embeds. Run it through go generate in callouts/sound.
package main

import (
	"bytes"
	"compress/gzip"
	"flag"
	"fmt"
	"log"
	"maps"
	"os"
	"regexp"
	"slices"
	"strings"

	"sidetone/callouts/sound"
)

var (
	entry   = regexp.MustCompile(`^\s*(?:"([^"]+)"|([a-z]+)): "([^"]+)"`)
	variant = regexp.MustCompile(`\(\d+\)$`)
	usable  = regexp.MustCompile(`^[a-z'.-]+$`)
)

func main() {
	log.SetFlags(0)
	log.SetPrefix("gendict: ")
	in := flag.String("in", "", "the dictionary as a JavaScript module")
	out := flag.String("out", "", "file to write")
	flag.Parse()
	if err := run(*in, *out); err != nil {
		log.Fatal(err)
	}
}

func run(in, out string) error {
	src, err := os.ReadFile(in)
	if err != nil {
		return err
	}
	words := map[string][][]byte{}
	for n, line := range strings.Split(string(src), "\n") {
		m := entry.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		word := variant.ReplaceAllString(m[1]+m[2], "")
		arpabet, _, _ := strings.Cut(m[3], " #")
		phones, ok := sound.ParsePhones(arpabet)
		if !ok {
			return fmt.Errorf("%s:%d: unknown phoneme in %q", in, n+1, m[3])
		}
		if !usable.MatchString(word) || len(phones) == 0 {
			continue
		}
		said := make([]byte, len(phones))
		for i, p := range phones {
			said[i] = byte(p) | 0x80
		}
		words[word] = append(words[word], said)
	}
	if len(words) < 100_000 {
		return fmt.Errorf("%s: only %d words, is it the dictionary?", in, len(words))
	}
	var blob bytes.Buffer
	for _, w := range slices.Sorted(maps.Keys(words)) {
		blob.WriteString(w)
		blob.Write(bytes.Join(words[w], []byte{1}))
		blob.WriteByte('\n')
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(blob.Bytes()); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	fmt.Printf("%d words, %d bytes, %d packed\n", len(words), blob.Len(), packed.Len())
	return os.WriteFile(out, packed.Bytes(), 0o644)
}
