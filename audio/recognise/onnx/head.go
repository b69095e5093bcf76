package onnx

import (
	"bytes"

	"sidetone/audio/ort/modelfile"
)

// The published decoder turns the eight-bit weights of its last layer into floats
// anew for each token, 54 MB of them, which takes more than half the time of a step.
// lighten gives the same model with a last layer that reads them as they are stored:
// a MatMulNBits (of ONNX Runtime's contributed operators) after the two branches, for
// the first token and for later ones, which end before their own. A model that is
// not made like that is given back as it is.
func lighten(model []byte) []byte {
	m, err := modelfile.Parse(model)
	if err != nil {
		return model
	}
	g, err := modelfile.Parse(m.First(modelfile.ModelGraph))
	if err != nil {
		return model
	}
	var last lastLayer
	for i, f := range g {
		if f.Num != modelfile.GraphNode {
			continue
		}
		if choice, err := modelfile.Parse(f.Bytes); err == nil && string(choice.First(modelfile.NodeOp)) == "If" {
			if choice = last.cutFrom(choice); choice == nil {
				return model
			}
			g[i] = modelfile.Within(modelfile.GraphNode, choice)
		}
	}
	added := last.anew(g)
	if added == nil {
		return model
	}
	m = m.With(modelfile.ModelGraph, append(g, added...))
	return append(m, modelfile.Within(modelfile.ModelOpset, modelfile.Message{
		modelfile.Text(modelfile.OpsetDomain, contributed), modelfile.Number(modelfile.OpsetVersion, 1)})).Encode()
}

const (
	logitsName  = "logits"
	normedName  = "sidetone.normed" // what the last layer is given
	contributed = "com.microsoft"
	headBlock   = 32 // weights that share a scale, as ONNX Runtime's fast kernels have them
)

// lastLayer names the weights of the last layer, [tokens, size] of eight bits, and
// what turns them into floats.
type lastLayer struct{ weights, scale, zero string }

// cutFrom is the node that chooses between the branches, those without their last
// layer; nil when they are not made as expected.
func (l *lastLayer) cutFrom(choice modelfile.Message) (out modelfile.Message) {
	for _, f := range choice {
		switch f.Num {
		case modelfile.NodeOutput:
			if string(f.Bytes) == logitsName {
				f = modelfile.Text(f.Num, normedName)
			}
		case modelfile.NodeAttribute:
			branch, err := modelfile.Parse(f.Bytes)
			if err != nil {
				return nil
			}
			graph, err := modelfile.Parse(branch.First(modelfile.AttributeGraph))
			if err != nil {
				return nil
			}
			if graph = l.cutFromBranch(graph); graph == nil {
				return nil
			}
			f = modelfile.Within(f.Num, branch.With(modelfile.AttributeGraph, graph))
		}
		out = append(out, f)
	}
	return out
}

func (l *lastLayer) cutFromBranch(g modelfile.Message) (out modelfile.Message) {
	inputs := func(op, makes string, n int) []string {
		if in := g.Node(op, makes).Texts(modelfile.NodeInput); len(in) == n {
			return in
		}
		return make([]string, n)
	}
	product := inputs("MatMul", logitsName, 2)
	floats := inputs("DequantizeLinear", product[1], 3)
	turned := inputs("Transpose", floats[0], 1)
	found := lastLayer{weights: turned[0], scale: floats[1], zero: floats[2]}
	if found.weights == "" || *l != (lastLayer{}) && *l != found {
		return nil
	}
	*l = found
	gone := map[string]bool{logitsName: true, product[1]: true, floats[0]: true}
	for _, f := range g {
		switch f.Num {
		case modelfile.GraphNode:
			n, err := modelfile.Parse(f.Bytes)
			if err != nil {
				return nil
			}
			if made := n.Texts(modelfile.NodeOutput); len(made) == 1 && gone[made[0]] {
				continue
			}
			for _, in := range n.Texts(modelfile.NodeInput) {
				if gone[in] {
					return nil // something else has a use for it
				}
			}
		case modelfile.GraphOutput:
			if v, err := modelfile.Parse(f.Bytes); err == nil && string(v.First(modelfile.ValueName)) == logitsName {
				f = modelfile.Within(f.Num, modelfile.Message{modelfile.Text(modelfile.ValueName, product[0]), modelfile.FloatType()})
			}
		}
		out = append(out, f)
	}
	return out
}

// anew is the layer as it is put into the graph g: a node, and its weights, with the
// scale and the zero of them all given for each block. Nil when they are not as
// expected.
func (l *lastLayer) anew(g modelfile.Message) modelfile.Message {
	weights, scale, zero := g.Tensor(l.weights), g.Tensor(l.scale), g.Tensor(l.zero)
	dims, data := weights.Numbers(modelfile.TensorDims), weights.First(modelfile.TensorRaw)
	factor, from := scale.First(modelfile.TensorFloats), zero.Numbers(modelfile.TensorInts)
	if len(dims) != 2 || dims[1]%headBlock != 0 || uint64(len(data)) != dims[0]*dims[1] || len(data) == 0 || len(factor) != 4 || len(from) != 1 ||
		weights.Int(modelfile.TensorType) != modelfile.Uint8 || scale.Int(modelfile.TensorType) != modelfile.Float || zero.Int(modelfile.TensorType) != modelfile.Uint8 {
		return nil
	}
	tokens, size := dims[0], dims[1]
	blocks := size / headBlock
	node := modelfile.Message{
		modelfile.Text(modelfile.NodeOp, "MatMulNBits"), modelfile.Text(modelfile.NodeDomain, contributed),
		modelfile.Text(modelfile.NodeInput, normedName), modelfile.Text(modelfile.NodeInput, "sidetone.head"),
		modelfile.Text(modelfile.NodeInput, "sidetone.scales"), modelfile.Text(modelfile.NodeInput, "sidetone.zeros"),
		modelfile.Text(modelfile.NodeOutput, logitsName),
		attribute("N", tokens), attribute("K", size), attribute("bits", 8), attribute("block_size", headBlock),
		attribute("accuracy_level", 4), // what it is given is rounded to eight bits too, block by block
	}
	return modelfile.Message{
		tensor("sidetone.head", modelfile.Uint8, data, tokens, blocks, headBlock),
		tensor("sidetone.scales", modelfile.Float, bytes.Repeat(factor, int(tokens*blocks)), tokens*blocks),
		tensor("sidetone.zeros", modelfile.Uint8, bytes.Repeat([]byte{byte(from[0])}, int(tokens*blocks)), tokens*blocks),
		modelfile.Within(modelfile.GraphNode, node),
	}
}

func tensor(name string, kind uint64, raw []byte, dims ...uint64) modelfile.Field {
	t := modelfile.Message{modelfile.Text(modelfile.TensorName, name), modelfile.Number(modelfile.TensorType, kind), modelfile.Bytes(modelfile.TensorRaw, raw)}
	for _, d := range dims {
		t = append(t, modelfile.Number(modelfile.TensorDims, d))
	}
	return modelfile.Within(modelfile.GraphTensor, t)
}

func attribute(name string, v uint64) modelfile.Field {
	return modelfile.Within(modelfile.NodeAttribute, modelfile.Message{modelfile.Text(modelfile.AttributeName, name),
		modelfile.Number(modelfile.AttributeType, modelfile.Int), modelfile.Number(modelfile.AttributeInt, v)})
}
