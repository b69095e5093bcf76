// Package modelfile reads and rewrites model files: protocol buffers as ONNX's
// published onnx.proto3 has them, of which only what is asked for is looked at.
package modelfile

import (
	"fmt"

	"google.golang.org/protobuf/encoding/protowire"
)

// Numbers of fields in onnx.proto3.
const (
	ModelGraph, ModelOpset                                     = 7, 8
	OpsetDomain, OpsetVersion                                  = 1, 2
	GraphNode, GraphTensor, GraphInput, GraphOutput            = 1, 5, 11, 12
	NodeInput, NodeOutput, NodeOp, NodeAttribute, NodeDomain   = 1, 2, 4, 5, 7
	AttributeName, AttributeInt, AttributeGraph, AttributeType = 1, 3, 6, 20
	TensorDims, TensorType, TensorFloats, TensorInts           = 1, 2, 4, 5
	TensorName, TensorRaw                                      = 8, 9
	ValueName, ValueType                                       = 1, 2
	typeTensor, tensorElement, tensorShape, shapeDim, dimValue = 1, 1, 2, 1, 1
	Float, Uint8                                               = 1, 2 // types of tensors
	Int                                                        = 2    // type of an attribute
)

// Message is a protocol buffer, field by field, in the order of the file.
type Message []Field

// Field is one of them.
type Field struct {
	Num    protowire.Number
	Bytes  []byte  // of a field that has bytes
	Number uint64  // of one that has a number
	whole  []byte  // as it was read or is to be written; nil for the next two
	prefix []byte  // of Bytes
	within Message // what stands for Bytes until it is written
}

// Parse takes a message apart, one level deep.
func Parse(b []byte) (Message, error) {
	var m Message
	for read := 0; read < len(b); {
		num, kind, n := protowire.ConsumeTag(b[read:])
		if n < 0 {
			return nil, fmt.Errorf("byte %d: %w", read, protowire.ParseError(n))
		}
		size := protowire.ConsumeFieldValue(num, kind, b[read+n:])
		if size < 0 {
			return nil, fmt.Errorf("byte %d: %w", read, protowire.ParseError(size))
		}
		f := Field{Num: num, whole: b[read : read+n+size]}
		switch kind {
		case protowire.BytesType:
			f.Bytes, _ = protowire.ConsumeBytes(f.whole[n:])
		case protowire.VarintType:
			f.Number, _ = protowire.ConsumeVarint(f.whole[n:])
		}
		m, read = append(m, f), read+n+size
	}
	return m, nil
}

// Bytes makes a field that has bytes, which are not copied.
func Bytes(num protowire.Number, b []byte) Field {
	return Field{Num: num, Bytes: b, prefix: prefix(num, len(b))}
}

// Text makes a field that has a text.
func Text(num protowire.Number, s string) Field { return Bytes(num, []byte(s)) }

// Within makes a field that has a message. It is written with the message it is in,
// as models are large; until then it has no Bytes.
func Within(num protowire.Number, m Message) Field {
	return Field{Num: num, within: append(Message{}, m...)}
}

// Number makes a field that has a number.
func Number(num protowire.Number, v uint64) Field {
	return Field{Num: num, Number: v, whole: protowire.AppendVarint(protowire.AppendTag(nil, num, protowire.VarintType), v)}
}

func prefix(num protowire.Number, size int) []byte {
	return protowire.AppendVarint(protowire.AppendTag(nil, num, protowire.BytesType), uint64(size))
}

// Encode writes the message.
func (m Message) Encode() []byte { return m.append(make([]byte, 0, m.size())) }

func (m Message) size() (n int) {
	for _, f := range m {
		if f.within != nil {
			n += protowire.SizeTag(f.Num) + protowire.SizeBytes(f.within.size())
		} else {
			n += len(f.whole)
			if f.whole == nil {
				n += len(f.prefix) + len(f.Bytes)
			}
		}
	}
	return n
}

func (m Message) append(b []byte) []byte {
	for _, f := range m {
		switch {
		case f.within != nil:
			b = f.within.append(append(b, prefix(f.Num, f.within.size())...))
		case f.whole != nil:
			b = append(b, f.whole...)
		default:
			b = append(append(b, f.prefix...), f.Bytes...)
		}
	}
	return b
}

// First is what the first field of a number holds, nil when there is none.
func (m Message) First(num protowire.Number) []byte {
	for _, f := range m {
		if f.Num == num {
			return f.Bytes
		}
	}
	return nil
}

// With is the message with another one in its fields of a number.
func (m Message) With(num protowire.Number, in Message) Message {
	out := append(Message(nil), m...)
	for i := range out {
		if out[i].Num == num {
			out[i] = Within(num, in)
		}
	}
	return out
}

// Texts are those of a repeated field.
func (m Message) Texts(num protowire.Number) (out []string) {
	for _, f := range m {
		if f.Num == num {
			out = append(out, string(f.Bytes))
		}
	}
	return out
}

// Numbers are those of a repeated field, packed or one by one.
func (m Message) Numbers(num protowire.Number) (out []uint64) {
	for _, f := range m {
		if f.Num != num {
			continue
		}
		if f.Bytes == nil {
			out = append(out, f.Number)
		}
		for b := f.Bytes; len(b) > 0; {
			v, n := protowire.ConsumeVarint(b)
			if n < 0 {
				return nil
			}
			out, b = append(out, v), b[n:]
		}
	}
	return out
}

// Int is the first number of a field, 0 when there is none.
func (m Message) Int(num protowire.Number) uint64 {
	if all := m.Numbers(num); len(all) > 0 {
		return all[0]
	}
	return 0
}

// FloatType is the type of a value that is a tensor of floats of any shape.
func FloatType() Field {
	return Within(ValueType, Message{Within(typeTensor, Message{Number(tensorElement, Float)})})
}
