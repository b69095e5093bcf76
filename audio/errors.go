package audio

import "errors"

// The reasons a recording cannot be opened. Errors of this package wrap one of
// them, or an error of package io/fs (no such file, no permission).
var (
	// ErrNotAudio: the file holds no sound that can be read.
	ErrNotAudio = errors.New("not a readable recording")
	// ErrNoFFmpeg: the file needs ffmpeg and ffmpeg is not on the PATH.
	ErrNoFFmpeg = errors.New("ffmpeg not found")
)
