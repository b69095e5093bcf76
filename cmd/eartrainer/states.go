package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"sidetone/audio/recognise/phones"
	"sidetone/audio/recognise/phones/train"
)

// example is a clip as the encoder heard it.
type example struct {
	voice string
	train.Example
}

// encoder gives frames for the network.
type encoder func(samples []float32) ([]float32, error)

// A file of examples: magic, then for each the lengths of voice, sounds and
// frames as uint32, and these; little-endian.
const statesMagic = "states2\n"

// clipsInFile are gathered into one file.
const clipsInFile = 64

// gather has clips encoded, several at once, into files in a folder, and gives
// them all. Files already there are read: a run that was stopped goes on where it
// was.
func gather(ctx context.Context, dir string, clips []clip, encode encoder, workers int, progress func(done, all int)) ([]example, error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	var all []example
	done := 0
	for these := range slices.Chunk(clips, clipsInFile) {
		// A file of fewer clips than another run wants has another name.
		file := filepath.Join(dir, fmt.Sprintf("%06d-%02d.states", done, len(these)))
		if _, err := os.Stat(file); err != nil {
			if err := gatherFile(ctx, file, these, encode, workers); err != nil {
				return nil, err
			}
		}
		some, err := readStates(file)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
		done += len(these)
		progress(done, len(clips))
	}
	return all, nil
}

func gatherFile(ctx context.Context, file string, clips []clip, encode encoder, workers int) error {
	made := make([]example, len(clips))
	err := inParallel(ctx, workers, len(clips), func(i int) error {
		samples, sounds, err := clips[i].make()
		if err != nil || len(samples) == 0 {
			return err
		}
		states, err := encode(samples)
		if err != nil {
			return err
		}
		made[i] = example{clips[i].voice, train.Example{Frames: train.Pack(states), Sounds: sounds}}
		return nil
	})
	if err != nil {
		return err
	}
	f, err := os.Create(file + ".part")
	if err != nil {
		return err
	}
	defer f.Close()
	w := bufio.NewWriterSize(f, 1<<20)
	w.WriteString(statesMagic)
	for _, e := range made {
		if len(e.Sounds) > 0 {
			e.write(w)
		}
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

// readStates reads a file of examples.
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
