"""Convert a TFLite float convolutional network (float16 weights, sparse ones included) to ONNX.

4-D activations are kept NCHW inside, the graph's input stays NHWC and the batch becomes dynamic. Only the operators
that the pose networks use are known; any other stops the conversion with its name.

usage: tflite_to_onnx.py IN.tflite OUT.onnx --origin TEXT --outputs OLD=NEW,...
       (outputs that are not named are cut off, together with the branches that only they need)
"""
import argparse

import numpy as np
import tflite
from onnx import helper

import onnx_file

OPERATORS = {value: name for name, value in vars(tflite.BuiltinOperator).items() if isinstance(value, int)}
DTYPES = {tflite.TensorType.FLOAT32: np.float32, tflite.TensorType.FLOAT16: np.float16,
          tflite.TensorType.INT32: np.int32}
INDEX_VECTORS = {1: tflite.Int32Vector, 2: tflite.Uint16Vector, 3: tflite.Uint8Vector}
NHWC_TO_NCHW = [0, 3, 1, 2]
NCHW_TO_NHWC = [0, 2, 3, 1]


def index_vector(kind, table):
    vector = INDEX_VECTORS[kind]()
    vector.Init(table.Bytes, table.Pos)
    return np.array(vector.ValuesAsNumpy(), dtype=np.int64)


def densify(tensor, values):
    """Expand a sparse tensor: levels are walked in storage order, each either dense or compressed (CSR-like)."""
    sparsity = tensor.Sparsity()
    shape = [int(n) for n in tensor.ShapeAsNumpy()]
    rank = len(shape)
    order = [int(n) for n in sparsity.TraversalOrderAsNumpy()]
    blocked = [int(n) for n in sparsity.BlockMapAsNumpy()] if sparsity.BlockMapLength() else []
    levels = []
    for k in range(sparsity.DimMetadataLength()):
        level = sparsity.DimMetadata(k)
        if level.Format() == 0:
            levels.append((int(level.DenseSize()), None, None))
        else:
            levels.append((None, index_vector(level.ArraySegmentsType(), level.ArraySegments()),
                           index_vector(level.ArrayIndicesType(), level.ArrayIndices())))
    # Dimensions beyond the tensor's own are positions inside a block of the dimension that the block map names.
    block_size = {blocked[dim - rank]: levels[k][0] for k, dim in enumerate(order) if dim >= rank}
    position = np.zeros(1, dtype=np.int64)
    coordinates = [np.zeros(1, dtype=np.int64) for _ in order]
    for k, (size, segments, indices) in enumerate(levels):
        if segments is None:
            parent = np.repeat(np.arange(len(position)), size)
            index = np.tile(np.arange(size), len(position))
            position = position[parent] * size + index
        else:
            count = segments[position + 1] - segments[position]
            parent = np.repeat(np.arange(len(position)), count)
            within = np.arange(len(parent)) - np.repeat(np.cumsum(count) - count, count)
            position = np.repeat(segments[position], count) + within
            index = indices[position]
        coordinates = [c[parent] for c in coordinates]
        coordinates[k] = index
    full = [np.zeros(len(position), dtype=np.int64) for _ in range(rank)]
    for k, dim in enumerate(order):
        if dim < rank:
            full[dim] += coordinates[k] * block_size.get(dim, 1)
        else:
            full[blocked[dim - rank]] += coordinates[k]
    dense = np.zeros(shape, dtype=values.dtype)
    dense[tuple(full)] = values[position]
    return dense


def same_padding(size, kernel, stride, dilation):
    """TFLite's SAME: as many outputs as strides fit, the odd pixel of padding after, not before."""
    total = max((-(-size // stride) - 1) * stride + (kernel - 1) * dilation + 1 - size, 0)
    return total // 2, total - total // 2


class Converter:
    def __init__(self, path):
        with open(path, "rb") as file:
            self.model = tflite.Model.GetRootAsModel(file.read(), 0)
        self.graph = self.model.Subgraphs(0)
        self.nodes = []      # ONNX nodes in execution order
        self.weights = {}    # ONNX name -> array
        self.constants = {}  # tensor index -> array in TFLite's layout
        self.names = {}      # tensor index -> ONNX name of an activation
        self.pads = {}       # output of a PAD that its convolutions take over -> (its input, spatial pads)
        self.readers = {}    # tensor index -> operators that read it
        for k in range(self.graph.OperatorsLength()):
            for index in self.graph.Operators(k).InputsAsNumpy():
                self.readers.setdefault(int(index), []).append(k)

    def shape(self, index):
        tensor = self.graph.Tensors(index)
        return [int(n) for n in tensor.ShapeAsNumpy()] if tensor.ShapeLength() else []

    def constant(self, index):
        if index not in self.constants:
            tensor = self.graph.Tensors(index)
            buffer = self.model.Buffers(tensor.Buffer())
            if buffer.DataLength() == 0:
                return None
            values = np.frombuffer(buffer.DataAsNumpy().tobytes(), dtype=DTYPES[tensor.Type()])
            self.constants[index] = densify(tensor, values) if tensor.Sparsity() else values.reshape(self.shape(index))
        return self.constants[index]

    def weight(self, array, hint):
        name = f"{hint}_{len(self.weights)}"
        self.weights[name] = np.ascontiguousarray(array)
        return name

    def node(self, kind, inputs, **attributes):
        output = f"{kind.lower()}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, inputs, [output], name=output, **attributes))
        return output

    def activated(self, name, activation):
        if activation == tflite.ActivationFunctionType.NONE:
            return name
        if activation == tflite.ActivationFunctionType.RELU:
            return self.node("Relu", [name])
        if activation == tflite.ActivationFunctionType.RELU6:
            return self.node("Clip", [name, self.weight(np.float32(0), "low"), self.weight(np.float32(6), "high")])
        raise NotImplementedError(f"activation function {activation}")

    def kind(self, operator):
        code = self.model.OperatorCodes(operator.OpcodeIndex())
        return OPERATORS[max(code.BuiltinCode(), code.DeprecatedBuiltinCode())]

    @staticmethod
    def options(operator, cls):
        options, table = cls(), operator.BuiltinOptions()
        options.Init(table.Bytes, table.Pos)
        return options

    def run(self, new_names):
        """-> inputs and outputs (name -> shape); new_names: TFLite output name -> ONNX output name, others are cut."""
        inputs, outputs = {}, {}
        index, = (int(i) for i in self.graph.InputsAsNumpy())
        inputs["image"] = ["N"] + self.shape(index)[1:]
        self.names[index] = self.node("Transpose", ["image"], perm=NHWC_TO_NCHW)
        for k in range(self.graph.OperatorsLength()):
            operator = self.graph.Operators(k)
            convert = getattr(self, "convert_" + self.kind(operator), None)
            if convert is None:
                raise NotImplementedError(f"operator {self.kind(operator)}")
            convert(operator, [int(i) for i in operator.InputsAsNumpy()], int(operator.OutputsAsNumpy()[0]))
        by_name = {self.graph.Tensors(int(i)).Name().decode(): int(i) for i in self.graph.OutputsAsNumpy()}
        for old, new in new_names.items():
            shape = self.shape(by_name[old])
            if len(shape) == 4:
                shape = [shape[k] for k in NHWC_TO_NCHW]
            self.nodes.append(helper.make_node("Identity", [self.names[by_name[old]]], [new], name="out_" + new))
            outputs[new] = ["N"] + shape[1:]
        return inputs, outputs

    # One method for each operator: (operator, input tensors, output tensor).

    def convert_DEQUANTIZE(self, _operator, sources, target):
        array = self.constant(sources[0])
        if array is None or array.dtype != np.float16:
            raise NotImplementedError("DEQUANTIZE of anything but float16 weights")
        self.constants[target] = array.astype(np.float32)

    def convert_DENSIFY(self, _operator, sources, target):
        self.constants[target] = self.constant(sources[0])

    def convert_PAD(self, _operator, sources, target):
        pads = self.constant(sources[1]).astype(np.int64)[NHWC_TO_NCHW]
        readers = self.readers.get(target, [])
        if not pads[:2].any() and readers and all(self.is_unpadded_convolution(k) for k in readers):
            self.pads[target] = (sources[0], pads[2:])
            return
        self.names[target] = self.node("Pad", [self.names[sources[0]], self.weight(pads.T.ravel(), "pads")], mode="constant")

    def is_unpadded_convolution(self, k):
        operator = self.graph.Operators(k)
        cls = {"CONV_2D": tflite.Conv2DOptions, "DEPTHWISE_CONV_2D": tflite.DepthwiseConv2DOptions}.get(self.kind(operator))
        return cls is not None and self.options(operator, cls).Padding() == tflite.Padding.VALID

    def convolution(self, options, sources, target, weights, groups):
        source, extra = self.pads.get(sources[0], (sources[0], np.zeros((2, 2), dtype=np.int64)))
        _, height, width, _ = self.shape(sources[0])
        kernel = list(weights.shape[2:])
        strides = [options.StrideH(), options.StrideW()]
        dilations = [options.DilationHFactor(), options.DilationWFactor()]
        pads = extra.copy()
        if options.Padding() == tflite.Padding.SAME:
            for axis, size in enumerate((height, width)):
                pads[axis] += same_padding(size, kernel[axis], strides[axis], dilations[axis])
        inputs = [self.names[source], self.weight(weights.astype(np.float32), "w")]
        if len(sources) > 2 and sources[2] >= 0:
            inputs.append(self.weight(self.constant(sources[2]).astype(np.float32), "b"))
        output = self.node("Conv", inputs, kernel_shape=kernel, strides=strides, dilations=dilations,
                           pads=[int(n) for n in pads.T.ravel()], group=groups)
        self.names[target] = self.activated(output, options.FusedActivationFunction())

    def convert_CONV_2D(self, operator, sources, target):
        weights = self.constant(sources[1]).transpose(NHWC_TO_NCHW)
        groups = self.shape(sources[0])[3] // weights.shape[1]
        self.convolution(self.options(operator, tflite.Conv2DOptions), sources, target, weights, groups)

    def convert_DEPTHWISE_CONV_2D(self, operator, sources, target):
        weights = self.constant(sources[1]).transpose(3, 0, 1, 2)
        options = self.options(operator, tflite.DepthwiseConv2DOptions)
        self.convolution(options, sources, target, weights, self.shape(sources[0])[3])

    def convert_ADD(self, operator, sources, target):
        inputs = []
        for source in sources:
            array = self.constant(source)
            if array is None:
                inputs.append(self.names[source])
                continue
            if len(self.shape(target)) == 4:
                array = array.reshape([1] * (4 - array.ndim) + list(array.shape)).transpose(NHWC_TO_NCHW)
            inputs.append(self.weight(array.astype(np.float32), "k"))
        activation = self.options(operator, tflite.AddOptions).FusedActivationFunction()
        self.names[target] = self.activated(self.node("Add", inputs), activation)

    def convert_RESIZE_BILINEAR(self, operator, sources, target):
        options = self.options(operator, tflite.ResizeBilinearOptions)
        before, after = self.shape(sources[0]), self.shape(target)
        mode = "align_corners" if options.AlignCorners() else "half_pixel" if options.HalfPixelCenters() else "asymmetric"
        scales = np.array([1, 1, after[1] / before[1], after[2] / before[2]], dtype=np.float32)
        self.names[target] = self.node("Resize", [self.names[sources[0]], "", self.weight(scales, "scales")],
                                       mode="linear", coordinate_transformation_mode=mode)

    def convert_MAX_POOL_2D(self, operator, sources, target):
        options = self.options(operator, tflite.Pool2DOptions)
        kernel = [options.FilterHeight(), options.FilterWidth()]
        strides = [options.StrideH(), options.StrideW()]
        pads = np.zeros((2, 2), dtype=np.int64)
        if options.Padding() == tflite.Padding.SAME:
            for axis, size in enumerate(self.shape(sources[0])[1:3]):
                pads[axis] = same_padding(size, kernel[axis], strides[axis], 1)
        output = self.node("MaxPool", [self.names[sources[0]]], kernel_shape=kernel, strides=strides,
                           pads=[int(n) for n in pads.T.ravel()])
        self.names[target] = self.activated(output, options.FusedActivationFunction())

    def convert_DEPTH_TO_SPACE(self, operator, sources, target):
        size = self.options(operator, tflite.DepthToSpaceOptions).BlockSize()
        self.names[target] = self.node("DepthToSpace", [self.names[sources[0]]], blocksize=size, mode="DCR")

    def convert_RESHAPE(self, _operator, sources, target):
        before, after = self.shape(sources[0]), self.shape(target)
        if len(after) == 4 or before[0] != 1 or after[0] != 1:
            raise NotImplementedError(f"RESHAPE from {before} to {after}")
        name = self.names[sources[0]]
        # The flat order is NHWC's; where the map is a single pixel both orders are the same.
        if len(before) == 4 and before[1:3] != [1, 1]:
            name = self.node("Transpose", [name], perm=NCHW_TO_NHWC)
        shape = self.weight(np.array([-1] + after[1:], dtype=np.int64), "shape")
        self.names[target] = self.node("Reshape", [name, shape])

    def convert_CONCATENATION(self, operator, sources, target):
        rank = len(self.shape(target))
        axis = self.options(operator, tflite.ConcatenationOptions).Axis() % rank
        if rank == 4:
            axis = NHWC_TO_NCHW.index(axis)
        self.names[target] = self.node("Concat", [self.names[source] for source in sources], axis=axis)

    def convert_LOGISTIC(self, _operator, sources, target):
        self.names[target] = self.node("Sigmoid", [self.names[sources[0]]])


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("source")
    parser.add_argument("target")
    parser.add_argument("--origin", required=True)
    parser.add_argument("--outputs", required=True)
    given = parser.parse_args()
    converter = Converter(given.source)
    inputs, outputs = converter.run(dict(pair.split("=") for pair in given.outputs.split(",")))
    onnx_file.write(given.target, converter.nodes, converter.weights, inputs, outputs, given.origin)


if __name__ == "__main__":
    main()
