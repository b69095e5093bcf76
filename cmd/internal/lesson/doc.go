// Package lesson makes the recording of a flying lesson out of a script:
// synthetic voices over engine noise, and the sheet of what was truly said,
// called and flown, and when.
//
// It is for contributors: the demo, the tests and the scorer are made with it.
// The same script gives the same samples.
package lesson
