package desk

import (
	"io"
	"testing"
)

func TestTemplatesAreDrawnFromWhatTheServerHas(t *testing.T) {
	lesson := Listed{ID: "1", Title: "Slow flight", Duration: 154, Maneuvers: []string{"Slow flight, clean"}}
	for name, data := range map[string]any{
		"library.tmpl.html": LibraryPage{Lessons: []Listed{lesson, {ID: "2", Progress: &Progress{Stage: "words"}}}},
		"lesson.tmpl.html":  LessonPage{Lesson: lesson},
		"print.tmpl.html":   LessonPage{Lesson: lesson},
	} {
		if err := pages.ExecuteTemplate(io.Discard, name, data); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
