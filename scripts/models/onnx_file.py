"""What both converters share: pruning, storing weights at half size, writing the file."""
import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

OPSET = 13
IR_VERSION = 8
# Below this many values a second node costs more bytes than the halved weights save.
SMALLEST_HALVED = 17


def prune(nodes, outputs):
    """Keep, in order, only the nodes that the named outputs need; also say which names those nodes read."""
    needed, kept = set(outputs), []
    for node in reversed(nodes):
        if any(name in needed for name in node.output):
            kept.append(node)
            needed.update(name for name in node.input if name)
    kept.reverse()
    return kept, needed


def halve(name, array):
    """-> (initializer, Cast node or None).

    The packages ship their weights as float16, so float32 copies of them hold no more: every array that float16
    represents exactly is stored as float16 and widened by a Cast, which ONNX Runtime folds away when it loads the file.
    """
    if array.dtype == np.float32 and array.size >= SMALLEST_HALVED:
        with np.errstate(over="ignore"):
            half = array.astype(np.float16)
        if np.array_equal(half.astype(np.float32), array):
            cast = helper.make_node("Cast", [name + "_h"], [name], name="cast_" + name, to=TensorProto.FLOAT)
            return numpy_helper.from_array(half, name + "_h"), cast
    return numpy_helper.from_array(array, name), None


def write(path, nodes, weights, inputs, outputs, origin):
    """nodes in execution order; weights: name -> array; inputs/outputs: name -> shape, "N" standing for the batch."""
    nodes, needed = prune(nodes, outputs)
    initializers, casts = [], []
    for name, array in weights.items():
        if name in needed:
            stored, cast = halve(name, np.ascontiguousarray(array))
            initializers.append(stored)
            if cast is not None:
                casts.append(cast)
    infos = [[helper.make_tensor_value_info(name, TensorProto.FLOAT, shape) for name, shape in side.items()]
             for side in (inputs, outputs)]
    graph = helper.make_graph(casts + nodes, "converted", infos[0], infos[1], initializers)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", OPSET)], ir_version=IR_VERSION,
                              producer_name="toeline")
    entry = model.metadata_props.add()
    entry.key, entry.value = "origin", origin
    onnx.checker.check_model(model, full_check=True)
    # Sorting map entries is all that protobuf leaves open; with it the same input gives the same bytes.
    with open(path, "wb") as file:
        file.write(model.SerializeToString(deterministic=True))
    print(f"{path}: {len(casts + nodes)} nodes, {sum(array.size for name, array in weights.items() if name in needed)} weights")
