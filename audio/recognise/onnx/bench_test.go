package onnx

import (
	"context"
	"testing"

	"sidetone/audio"
	"sidetone/audio/audiotest"
	"sidetone/audio/models/modelstest"
)

// BenchmarkRecognise also gives the time a second of speech takes.
func BenchmarkRecognise(b *testing.B) {
	call, talk := audiotest.Prompt(b, "conf-locked"), audiotest.Prompt(b, "conf-placeintoconf")
	long, _ := audiotest.Join(0.1, talk, call, talk, call)
	for _, c := range []struct {
		name  string
		r     *Recogniser
		sound []float32
	}{
		{"short/free", plain(b), call},
		{"short/phrases", expecting(b), call},
		{"long/free", plain(b), long},
		{"long/phrases", expecting(b), long},
	} {
		b.Run(c.name, func(b *testing.B) {
			seg := audio.Segment{Samples: c.sound}
			for b.Loop() {
				if _, err := c.r.Recognise(context.Background(), seg); err != nil {
					b.Fatal(err)
				}
			}
			seconds := float64(len(c.sound)) / audio.Rate
			b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N)/seconds, "ms/s-of-speech")
		})
	}
}

func BenchmarkNew(b *testing.B) {
	set := modelstest.Find(b)
	all := lexicon(b)
	for _, c := range []struct {
		name  string
		count int
	}{{"free", 0}, {"phrases", len(all)}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				r, err := New(set, Options{Phrases: all[:c.count], Say: say})
				if err != nil {
					b.Fatal(err)
				}
				if err := r.Close(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
