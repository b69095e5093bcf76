// Package logbook keeps lessons: what was recorded, what the machine said of it, and
// what people said since. What the machine said is written once; what people say are
// facts, which are appended with author and time and never changed. What a lesson
// looks like now follows from the two.
//
// It is a SQLite database in the user's data folder. It knows nothing of how a lesson
// is drawn or listened to.
package logbook
