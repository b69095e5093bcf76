// Package schema holds the JSON Schemas of procedure and aircraft files, for
// editors and other programs. The parsers in rules do their own checking and
// know more: what a schema cannot say is whether ids and facts exist.
package schema

import _ "embed"

// Procedure is the JSON Schema (draft 2020-12) of a procedure file.
//
//go:embed procedure.schema.json
var Procedure []byte

// Aircraft is the JSON Schema (draft 2020-12) of an aircraft file.
//
//go:embed aircraft.schema.json
var Aircraft []byte
