// Package audio turns a recording into 16 kHz float PCM, block by block, one
// slice per channel, however long the recording is.
//
// It says what it found on the way (truncated files, channels that are copies
// of each other, clipping) and makes what the report needs to show sound: a
// waveform's peaks and a small encoding to embed. It knows nothing of words.
package audio

// Rate is the sample rate of all PCM this package gives, in Hz.
const Rate = 16000
