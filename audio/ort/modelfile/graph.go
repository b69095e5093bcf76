package modelfile

import (
	"errors"
	"slices"

	"google.golang.org/protobuf/encoding/protowire"
)

// Port is an input or an output of a model.
type Port struct {
	Name string
	Dims []int64 // -1 where it is left open
}

// Ports gives the inputs and the outputs of a model file, in their order.
func Ports(model []byte) (in, out []Port, err error) {
	m, err := Parse(model)
	if err != nil {
		return nil, nil, err
	}
	g, err := Parse(m.First(ModelGraph))
	if err != nil {
		return nil, nil, err
	}
	for _, f := range g {
		if f.Num != GraphInput && f.Num != GraphOutput {
			continue
		}
		p, err := port(f.Bytes)
		if err != nil {
			return nil, nil, err
		}
		switch {
		case f.Num == GraphOutput:
			out = append(out, p)
		case g.Tensor(p.Name) == nil: // older files list their weights among the inputs
			in = append(in, p)
		}
	}
	if len(in) == 0 || len(out) == 0 {
		return nil, nil, errors.New("it has no inputs or no outputs: no model")
	}
	return in, out, nil
}

func port(b []byte) (Port, error) {
	v, err := Parse(b)
	if err != nil {
		return Port{}, err
	}
	p := Port{Name: string(v.First(ValueName))}
	shape, err := v.within(ValueType, typeTensor, tensorShape)
	for _, f := range shape {
		if f.Num != shapeDim {
			continue
		}
		dim, err := Parse(f.Bytes)
		if err != nil {
			return Port{}, err
		}
		size := int64(-1)
		if n := dim.Numbers(dimValue); len(n) > 0 {
			size = int64(n[0])
		}
		p.Dims = append(p.Dims, size)
	}
	return p, err
}

// within is the message that many levels deep, nil when there is none.
func (m Message) within(path ...protowire.Number) (Message, error) {
	for _, num := range path {
		b := m.First(num)
		if b == nil {
			return nil, nil
		}
		var err error
		if m, err = Parse(b); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// Node is the node of a graph that does op and makes a value, nil when there is none.
func (m Message) Node(op, makes string) Message {
	for _, f := range m {
		if f.Num != GraphNode {
			continue
		}
		if n, err := Parse(f.Bytes); err == nil && string(n.First(NodeOp)) == op && slices.Contains(n.Texts(NodeOutput), makes) {
			return n
		}
	}
	return nil
}

// Tensor is one of a graph's, by its name; nil when there is none.
func (m Message) Tensor(name string) Message {
	for _, f := range m {
		if f.Num != GraphTensor {
			continue
		}
		if t, err := Parse(f.Bytes); err == nil && string(t.First(TensorName)) == name {
			return t
		}
	}
	return nil
}
