// Package transcript holds the words of a lesson and when they were said.
//
// It is the one thing every source of words gives, whether a recogniser or a
// caption file, and the only thing callouts are read from. It knows nothing of
// recognisers or of sound.
package transcript

// Word is one spoken word. Start and End are seconds from the start of the
// recording, Confidence is the source's own belief in [0,1] that the word was
// said (1 when the source gives none). Estimated says that the times are only those
// of a line the word stands in, shared out among its words.
type Word struct {
	Text       string  `json:"text"`
	Start      float64 `json:"start"`
	End        float64 `json:"end"`
	Confidence float64 `json:"confidence"`
	Estimated  bool    `json:"estimated,omitempty"`
	// Or is what may have been said instead, nil for nothing.
	Or *Alternative `json:"or,omitempty"`
}

// Alternative is what may have been said in place of a word and those behind it:
// too unlikely to be written, not so unlikely that it may be said not to be there.
type Alternative struct {
	Text       string  `json:"text"`
	Words      int     `json:"words"` // that it stands in place of, 1 or more; those of the utterance at most
	Confidence float64 `json:"confidence"`
}

// Utterance is one unbroken stretch of speech on one channel, in seconds from
// the start of the recording. Channel counts from 0; Speaker is "" when unknown.
type Utterance struct {
	Start   float64 `json:"start"`
	End     float64 `json:"end"`
	Channel int     `json:"channel"`
	Speaker string  `json:"speaker"`
	Text    string  `json:"text"`
	Words   []Word  `json:"words"`
}

// Transcript is the words of one recording, utterances ordered by Start.
type Transcript struct {
	Utterances []Utterance
}
