package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"testing"

	"sidetone/audio"
	"sidetone/audio/models/modelstest"
	"sidetone/audio/recognise/onnx"
)

// The whole debrief of the demo lesson, and beside it the bare recogniser over
// the same file in 30 s pieces with as many cores, as somebody would run it
// without anything around it.
func BenchmarkDebrief(b *testing.B) {
	set := modelstest.Find(b)
	f := debriefFlags{noHTML: true, json: "-", hearing: hearingFlags{models: set.Dir, threads: 2, channels: "auto", keeping: keepingFlags{nothing: true}}}
	b.Run("whole debrief", func(b *testing.B) {
		for b.Loop() {
			if err := debrief(context.Background(), []string{demoFile("lesson.wav")}, f, io.Discard, io.Discard); err != nil {
				b.Fatal(err)
			}
		}
		perSecond(b)
	})
	b.Run("bare recogniser in 30 s pieces", func(b *testing.B) {
		for b.Loop() {
			r, err := onnx.New(set, onnx.Options{Threads: 2})
			if err != nil {
				b.Fatal(err)
			}
			if err := bare(r, demoFile("lesson.wav")); err != nil {
				b.Fatal(err)
			}
			r.Close()
		}
		perSecond(b)
	})
}

// demoSeconds is the length of the demo lesson.
const demoSeconds = 154.6

func perSecond(b *testing.B) {
	b.ReportMetric(demoSeconds*float64(b.N)/b.Elapsed().Seconds(), "lesson-s/s")
}

func bare(r *onnx.Recogniser, path string) error {
	src, err := audio.Open(context.Background(), path)
	if err != nil {
		return err
	}
	defer src.Close()
	var piece []float32
	at := 0.0
	flush := func() error {
		if len(piece) == 0 {
			return nil
		}
		_, err := r.Recognise(context.Background(), audio.Segment{Start: at, Samples: piece})
		at += float64(len(piece)) / audio.Rate
		piece = piece[:0]
		return err
	}
	for {
		block, err := src.Read()
		if errors.Is(err, io.EOF) {
			return flush()
		}
		if err != nil {
			return err
		}
		piece = append(piece, block[0]...)
		if len(piece) >= 30*audio.Rate {
			if err := flush(); err != nil {
				return err
			}
		}
	}
}

func BenchmarkDebriefOfWords(b *testing.B) {
	in := captions(b, b.TempDir())
	f := debriefFlags{noHTML: true, json: "-", hearing: hearingFlags{threads: 1, channels: "auto"}}
	for b.Loop() {
		var out bytes.Buffer
		if err := debrief(context.Background(), []string{in}, f, &out, io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}
