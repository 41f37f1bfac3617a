"""Stores a trained depth network at half size and writes its card.

Usage: finish.py TRAINED.onnx MODELS_DIR

Weights are rounded to float16 and widened by Cast nodes when the file is loaded; the largest change of an output over random
inputs is printed.
"""

import hashlib
import sys
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
from onnx import TensorProto, helper, numpy_helper

CARD = """# Depth of the body's joints from their movement in the picture; about 0.1 ms for each picture on one core.
# Made by scripts/make-lifter.sh from made-up movements and rendered players; nobody's recordings are in it.
name = "pose_lifter"
file = "pose_lifter.onnx"
sha256 = "{sha256}"
licence = "MIT OR Apache-2.0"
input = "joints"              # [1, 45, time]: see src/pose/lifter.rs
output = "depth"              # [1, 28, time]: depth of 14 joints and the logarithms of their standard deviations
channels = 45
rate = 30.0
"""


def halved(model):
    graph = model.graph
    kept, casts = [], []
    for weights in graph.initializer:
        array = numpy_helper.to_array(weights)
        if array.dtype != np.float32 or array.size < 17:
            kept.append(weights)
            continue
        kept.append(numpy_helper.from_array(array.astype(np.float16), weights.name + "_h"))
        casts.append(helper.make_node("Cast", [weights.name + "_h"], [weights.name], to=TensorProto.FLOAT))
    nodes = casts + list(graph.node)
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(kept)
    graph.node.extend(nodes)
    del model.metadata_props[:]
    onnx.checker.check_model(model, full_check=True)
    return model


def main():
    trained, models = Path(sys.argv[1]), Path(sys.argv[2])
    out = models / "pose_lifter.onnx"
    model = halved(onnx.load(trained))
    out.write_bytes(model.SerializeToString(deterministic=True))
    joints = np.random.default_rng(1).normal(0, 0.4, (1, 45, 120)).astype(np.float32)
    before, after = (onnxruntime.InferenceSession(str(p), providers=["CPUExecutionProvider"]).run(None, {"joints": joints})[0] for p in (trained, out))
    print(f"{out}: {out.stat().st_size} bytes, outputs change by {np.abs(before - after).max():.4f} at most")
    sha256 = hashlib.sha256(out.read_bytes()).hexdigest()
    (models / "pose_lifter.toml").write_text(CARD.format(sha256=sha256))


if __name__ == "__main__":
    main()
