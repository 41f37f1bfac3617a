"""Stores a trained depth network at a quarter of its size and writes its card.

Usage: finish.py TRAINED.onnx MODELS_DIR

Weights are rounded to 8 bits for each output channel and widened by DequantizeLinear nodes when the file is loaded; the largest
change of an output over random inputs is printed (seen: 0.04; on rendered clips depths change by 0.001 to 0.003 of the body's size,
root mean square, and are known to 0.01 to 0.1).
"""

import hashlib
import sys
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
from onnx import helper, numpy_helper

CARD = """# Depth of the body's joints from their movement in the picture; about 0.2 ms for each thirtieth of a second on one core.
# Made by scripts/make-lifter.sh. Learnt from made-up movements, rendered players, and recorded tennis movement under CC BY-SA 3.0
# (players m01 to m11 of "A tennis action dataset: competitive performance of Caldas-Colombia tennis players", Pulgarin-Giraldo
# and others, 2017, 10.1007/978-3-319-52277-7_38, github.com/jdpulgarin/Tennis-MoCap) and other recorded movement (subjects 01 to
# 14 of mocap.cs.cmu.edu), filmed by made-up cameras. The network is under the tennis recordings' licence; models/NOTICE says more.
name = "pose_lifter"
file = "pose_lifter.onnx"
sha256 = "{sha256}"
licence = "CC-BY-SA-3.0"
input = "joints"              # [1, 53, time]: see src/pose/lifter.rs
output = "depth"              # [1, 28, time]: depth of 14 joints and the logarithms of their standard deviations
channels = 53
rate = 30.0
"""


def packed(model):
    graph = model.graph
    kept, widened = [], []
    for weights in graph.initializer:
        array = numpy_helper.to_array(weights)
        if array.dtype != np.float32 or array.size < 1000:
            kept.append(weights)
            continue
        step = np.abs(array).reshape(len(array), -1).max(axis=1) / 127
        step[step == 0] = 1
        whole = np.round(array / step.reshape(-1, *[1] * (array.ndim - 1))).astype(np.int8)
        parts = {"_q": whole, "_step": step.astype(np.float32), "_zero": np.zeros(len(step), np.int8)}
        kept += [numpy_helper.from_array(part, weights.name + end) for end, part in parts.items()]
        widened.append(helper.make_node("DequantizeLinear", [weights.name + end for end in parts], [weights.name], axis=0))
    nodes = widened + list(graph.node)
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(kept)
    graph.node.extend(nodes)
    del model.metadata_props[:]
    onnx.checker.check_model(model, full_check=True)
    return model


def main():
    trained, models = Path(sys.argv[1]), Path(sys.argv[2])
    out = models / "pose_lifter.onnx"
    model = packed(onnx.load(trained))
    out.write_bytes(model.SerializeToString(deterministic=True))
    joints = np.random.default_rng(1).normal(0, 0.4, (1, 53, 120)).astype(np.float32)
    before, after = (onnxruntime.InferenceSession(str(p), providers=["CPUExecutionProvider"]).run(None, {"joints": joints})[0] for p in (trained, out))
    print(f"{out}: {out.stat().st_size} bytes, outputs change by {np.abs(before - after).max():.4f} at most")
    sha256 = hashlib.sha256(out.read_bytes()).hexdigest()
    (models / "pose_lifter.toml").write_text(CARD.format(sha256=sha256))


if __name__ == "__main__":
    main()
