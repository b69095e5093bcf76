package timeline_test

import (
	"encoding/json"
	"strings"
	"testing"

	"sidetone/audio/transcript"
	"sidetone/rules"
	"sidetone/timeline"
)

func TestAnEmptyLessonHasEmptyListsAndNoNulls(t *testing.T) {
	for _, tl := range []*timeline.Timeline{
		timeline.Build(timeline.Recording{}, nil, nil, nil),
		timeline.Build(timeline.Recording{}, &transcript.Transcript{Utterances: []transcript.Utterance{{}}}, nil, []rules.Assessment{{}}),
	} {
		b, err := json.Marshal(tl)
		if err != nil {
			t.Fatal(err)
		}
		// These are no lists: null says that there is none.
		text := strings.NewReplacer(`"judged":null`, "", `"abandoned":null`, "").Replace(string(b))
		if strings.Contains(text, "null") {
			t.Errorf("%s", b)
		}
	}
}

func TestBuildLeavesWhatItIsGivenAlone(t *testing.T) {
	in := &transcript.Transcript{Utterances: []transcript.Utterance{{Text: "a"}}}
	tl := timeline.Build(timeline.Recording{File: "x"}, in, nil, nil, "a note")
	tl.Transcript[0].Text = "b"
	if in.Utterances[0].Text != "a" || in.Utterances[0].Words != nil {
		t.Errorf("%+v", in.Utterances[0])
	}
	if tl.Version != timeline.Version || tl.Recording.File != "x" || len(tl.Notes) != 1 {
		t.Errorf("%+v", tl)
	}
}
