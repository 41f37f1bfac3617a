"""Convert the NanoDet object detector from a TensorFlow.js graph model to ONNX.

The graph itself came from ONNX once, so it is full of transposes between NCHW and NHWC. They are not written: every 4-D
activation stays NCHW, and only a note is kept of the order in which the graph sees it. The six outputs (three strides,
scores and distances) are joined into two, and the batch becomes dynamic.

usage: tfjs_to_onnx.py MODEL.json OUT.onnx --origin TEXT
"""
import argparse
import base64
import json
import os

import numpy as np
from onnx import helper

import onnx_file

NHWC_TO_NCHW = [0, 3, 1, 2]
NCHW_TO_NHWC = [0, 2, 3, 1]
INPUT_SIZE = 416
SCORES = ["Identity", "Identity_1", "Identity_2"]
DISTANCES = ["Identity_3", "Identity_4", "Identity_5"]
STORED = {"float16": np.float16, "float32": np.float32, "int32": np.int32}


def read_constants(path, manifest):
    """-> name -> array; the weight files are laid end to end, in the manifest's order."""
    constants = {}
    for group in manifest:
        data = b""
        for part in group["paths"]:
            with open(os.path.join(os.path.dirname(path), part), "rb") as file:
                data += file.read()
        offset = 0
        for entry in group["weights"]:
            stored = np.dtype(STORED[entry.get("quantization", entry)["dtype"]])
            count = int(np.prod(entry["shape"], dtype=np.int64))
            array = np.frombuffer(data, stored, count, offset).reshape(entry["shape"])
            constants[entry["name"]] = array.astype(STORED[entry["dtype"]])
            offset += count * stored.itemsize
    return constants


def integers(node, key):
    return [int(n) for n in node["attr"][key]["list"]["i"]]


def in_order(nodes):
    """The file lists nodes in no particular order: inputs first."""
    by_name, done, result = {node["name"]: node for node in nodes}, set(), []
    stack = [node["name"] for node in reversed(nodes)]
    while stack:
        name = stack[-1]
        waiting = [] if name in done else [source.split(":")[0] for source in by_name[name].get("input", [])]
        waiting = [source for source in waiting if source not in done]
        if waiting:
            stack.extend(reversed(waiting))
            continue
        stack.pop()
        if name not in done:
            done.add(name)
            result.append(by_name[name])
    return result


class Converter:
    def __init__(self, path):
        with open(path, encoding="utf-8") as file:
            document = json.load(file)
        self.source_nodes = in_order(document["modelTopology"]["node"])
        self.constants = read_constants(path, document["weightsManifest"])
        self.nodes, self.weights = [], {}
        self.names = {}  # graph's name -> ONNX name
        self.nhwc = {}   # graph's name -> whether the graph sees this 4-D activation as NHWC
        self.pads = {}   # graph's name of a padded activation -> spatial pads still to be applied by its reader
        self.width = {"image": INPUT_SIZE}  # ONNX name -> width of the (square) map

    def weight(self, array, hint):
        name = f"{hint}_{len(self.weights)}"
        self.weights[name] = np.ascontiguousarray(array)
        return name

    def node(self, kind, inputs, **attributes):
        output = f"{kind.lower()}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, inputs, [output], name=output, **attributes))
        width = self.width.get(inputs[0])
        if width is not None and "kernel_shape" in attributes:
            left, right = attributes["pads"][1::2]
            width = (width + left + right - attributes["kernel_shape"][1]) // attributes["strides"][1] + 1
        self.width[output] = width
        return output

    def run(self):
        for node in self.source_nodes:
            convert = getattr(self, "convert_" + node["op"], None)
            if convert is None:
                raise NotImplementedError(f"operator {node['op']}")
            convert(node, node["name"], node.get("input", []))
        for parts, name in ((SCORES, "scores"), (DISTANCES, "dist")):
            inputs = [self.names[part] for part in parts]
            self.nodes.append(helper.make_node("Concat", inputs, [name], name="out_" + name, axis=1))
        return {"image": ["N", 3, INPUT_SIZE, INPUT_SIZE]}, {"scores": ["N", 3549, 80], "dist": ["N", 3549, 44]}

    def unary(self, target, source, kind, **attributes):
        assert source not in self.pads, f"{target}: padding not applied"
        self.names[target] = self.node(kind, [self.names[source]], **attributes)
        self.nhwc[target] = self.nhwc[source]

    # One method for each operator: (node, output, inputs).

    def convert_Const(self, _node, target, _sources):
        assert target in self.constants, target

    def convert_Placeholder(self, _node, target, _sources):
        self.names[target], self.nhwc[target] = "image", False

    # These two only compute the target shapes of the reshapes, which are known.
    def convert_SparseToDense(self, _node, _target, _sources):
        pass

    def convert_AddV2(self, _node, _target, _sources):
        pass

    def convert_Identity(self, _node, target, sources):
        self.names[target] = self.names[sources[0]]

    def convert_Transpose(self, _node, target, sources):
        source, order = sources[0], [int(n) for n in self.constants[sources[1]]]
        if len(order) == 3:  # after the reshape: [batch, channels, places] to [batch, places, channels]
            self.names[target] = self.node("Transpose", [self.names[source]], perm=order)
            return
        assert order == (NHWC_TO_NCHW if self.nhwc[source] else NCHW_TO_NHWC), f"{target}: transpose {order}"
        self.names[target], self.nhwc[target] = self.names[source], not self.nhwc[source]
        if source in self.pads:
            self.pads[target] = self.pads[source]

    def convert_Pad(self, _node, target, sources):
        pads = self.constants[sources[1]].astype(np.int64)
        if self.nhwc[sources[0]]:
            pads = pads[NHWC_TO_NCHW]
        assert not pads[:2].any(), f"{target}: padding of batch or channels"
        self.names[target], self.nhwc[target] = self.names[sources[0]], self.nhwc[sources[0]]
        self.pads[target] = [int(n) for n in pads[2:].T.ravel()]

    def convert_PadV2(self, node, target, sources):
        # Only before the max pooling, whose own padding never wins either.
        assert self.constants[sources[2]] <= np.finfo(np.float32).min, f"{target}: padding value"
        self.convert_Pad(node, target, sources)

    def convert_Conv2D(self, node, target, sources):
        assert self.nhwc[sources[0]] and base64.b64decode(node["attr"]["padding"]["s"]) == b"VALID", target
        weights = self.constants[sources[1]].transpose(3, 2, 0, 1)
        self.names[target] = self.node(
            "Conv", [self.names[sources[0]], self.weight(weights, "w")], kernel_shape=list(weights.shape[2:]),
            strides=integers(node, "strides")[1:3], dilations=integers(node, "dilations")[1:3],
            pads=self.pads.get(sources[0], [0, 0, 0, 0]))
        self.nhwc[target] = True

    def convert_Add(self, _node, target, sources):
        source, other = sources
        self.nhwc[target] = self.nhwc[source]
        bias = self.constants.get(other)
        if bias is None:
            assert self.nhwc[other] == self.nhwc[source], target
            self.names[target] = self.node("Add", [self.names[source], self.names[other]])
            return
        # A constant is always the bias of the convolution just before.
        convolution = next(n for n in self.nodes if n.output[0] == self.names[source])
        assert convolution.op_type == "Conv" and len(convolution.input) == 2 and bias.size == bias.shape[-1], target
        convolution.input.append(self.weight(bias.ravel(), "b"))
        self.names[target] = self.names[source]

    def convert_LeakyRelu(self, node, target, sources):
        self.unary(target, sources[0], "LeakyRelu", alpha=float(node["attr"]["alpha"]["f"]))

    def convert_Sigmoid(self, _node, target, sources):
        self.unary(target, sources[0], "Sigmoid")

    def convert_MaxPool(self, node, target, sources):
        assert self.nhwc[sources[0]], target
        self.names[target] = self.node("MaxPool", [self.names[sources[0]]], kernel_shape=integers(node, "ksize")[1:3],
                                       strides=integers(node, "strides")[1:3], pads=self.pads.get(sources[0], [0, 0, 0, 0]))
        self.nhwc[target] = True

    def convert_ConcatV2(self, _node, target, sources):
        *parts, axis = sources
        assert not any(self.nhwc[part] for part in parts) and int(self.constants[axis]) == 1, target
        self.names[target] = self.node("Concat", [self.names[part] for part in parts], axis=1)
        self.nhwc[target] = False

    def convert_SplitV(self, _node, target, sources):
        sizes = self.weight(self.constants[sources[1]].astype(np.int64), "sizes")
        assert not self.nhwc[sources[0]] and int(self.constants[sources[2]]) == 1, target
        outputs = [f"split_{len(self.nodes)}_{k}" for k in range(2)]
        self.nodes.append(helper.make_node("Split", [self.names[sources[0]], sizes], outputs, name=target, axis=1))
        for suffix, output in zip(("", ":1"), outputs):
            self.names[target + suffix], self.nhwc[target + suffix] = output, False

    def convert_Reshape(self, _node, target, sources):
        assert not self.nhwc[sources[0]], target
        # Batch and channels stay (0 = as it is), the map becomes one axis of places.
        channels = 44 if sources[0].endswith(":1") else 80
        shape = self.weight(np.array([0, channels, -1], dtype=np.int64), "shape")
        self.names[target] = self.node("Reshape", [self.names[sources[0]], shape])

    def convert_ResizeBilinear(self, node, target, sources):
        assert self.nhwc[sources[0]] and node["attr"]["half_pixel_centers"]["b"] and not node["attr"]["align_corners"]["b"]
        factor = int(self.constants[sources[1]][0]) / self.width[self.names[sources[0]]]
        scales = self.weight(np.array([1, 1, factor, factor], dtype=np.float32), "scales")
        self.names[target] = self.node("Resize", [self.names[sources[0]], "", scales], mode="linear",
                                       coordinate_transformation_mode="half_pixel")
        self.nhwc[target] = True
        self.width[self.names[target]] = int(self.constants[sources[1]][0])


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("source")
    parser.add_argument("target")
    parser.add_argument("--origin", required=True)
    given = parser.parse_args()
    converter = Converter(given.source)
    inputs, outputs = converter.run()
    onnx_file.write(given.target, converter.nodes, converter.weights, inputs, outputs, given.origin)


if __name__ == "__main__":
    main()
