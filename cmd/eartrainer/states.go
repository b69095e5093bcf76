package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/train"
)

// example is a clip as the encoder heard it.
type example struct {
	voice string
	train.Example
}

// encoder gives frames of so many numbers.
type encoder func(samples []float32) ([]float32, error)

// The file of examples: magic, then for each the lengths of voice, sounds and
// frames as uint32, and these; little-endian.
const statesMagic = "states1\n"

// gather has all clips encoded into a file, several at once, unless it is there.
func gather(ctx context.Context, file string, clips []clip, encode encoder, size, workers int, progress func(done, all int)) error {
	if _, err := os.Stat(file); err == nil {
		return nil
	}
	f, err := os.Create(file + ".part")
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	w.WriteString(statesMagic)
	const atOnce = 64 // are kept until written in order
	for from := 0; from < len(clips); from += atOnce {
		these := clips[from:min(from+atOnce, len(clips))]
		made := make([]example, len(these))
		err := inParallel(ctx, workers, len(these), func(i int) error {
			samples, sounds, err := these[i].make()
			if err != nil || len(samples) == 0 {
				return err
			}
			states, err := encode(samples)
			if err != nil {
				return err
			}
			made[i] = example{these[i].voice, train.Example{Frames: train.Pack(states, size), Sounds: sounds}}
			return nil
		})
		if err != nil {
			return err
		}
		for _, e := range made {
			if len(e.Sounds) > 0 {
				e.write(w)
			}
		}
		progress(from+len(these), len(clips))
	}
	if err := errors.Join(w.Flush(), f.Close()); err != nil {
		return err
	}
	return os.Rename(file+".part", file)
}

func (e example) write(w *bufio.Writer) {
	var head [12]byte
	for i, n := range []int{len(e.voice), len(e.Sounds), len(e.Frames)} {
		binary.LittleEndian.PutUint32(head[4*i:], uint32(n))
	}
	w.Write(head[:])
	w.WriteString(e.voice)
	for _, p := range e.Sounds {
		w.WriteByte(byte(p))
	}
	binary.Write(w, binary.LittleEndian, []uint16(e.Frames)) // Flush tells what went wrong
}

// readStates reads a file gather wrote.
func readStates(file string) ([]example, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 1<<20)
	magic := make([]byte, len(statesMagic))
	if _, err := io.ReadFull(r, magic); err != nil || string(magic) != statesMagic {
		return nil, fmt.Errorf("%s holds no states: remove it", file)
	}
	var out []example
	for {
		var head [12]byte
		if _, err := io.ReadFull(r, head[:]); err == io.EOF {
			return out, nil
		} else if err != nil {
			return nil, fmt.Errorf("%s, example %d: %w", file, len(out)+1, err)
		}
		n := [3]uint32{}
		for i := range n {
			n[i] = binary.LittleEndian.Uint32(head[4*i:])
		}
		text := make([]byte, n[0]+n[1])
		e := example{}
		e.Frames = make(train.Frames, n[2])
		_, err := io.ReadFull(r, text)
		if err == nil {
			err = binary.Read(r, binary.LittleEndian, []uint16(e.Frames))
		}
		if err != nil {
			return nil, fmt.Errorf("%s, example %d: %w", file, len(out)+1, err)
		}
		e.voice = string(text[:n[0]])
		for _, b := range text[n[0]:] {
			e.Sounds = append(e.Sounds, phones.Phone(b))
		}
		out = append(out, e)
	}
}
