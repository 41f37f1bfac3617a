"""Joins trained recognisers into one that gives their mean, stores it at a quarter of its size and writes its card.

Usage: join.py MODELS_DIR TRAINED.onnx…
"""

import hashlib
import sys
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
from onnx import compose, helper

sys.path.append(str(Path(__file__).resolve().parent.parent / "lifter"))

from finish import packed

CARD = """# Which stroke, by which hand, volley or not, one hand or two, and when the ball is met, from how a body's points move.
# Made by scripts/make-recogniser.sh. Learnt from recorded tennis movement under CC BY-SA 3.0 (players m01 to m11 of "A tennis
# action dataset: competitive performance of Caldas-Colombia tennis players", Pulgarin-Giraldo and others, 2017,
# 10.1007/978-3-319-52277-7_38, github.com/jdpulgarin/Tennis-MoCap), turned, mirrored, stretched and filmed by made-up cameras, and
# from made-up movement. The network is under the recordings' licence; models/NOTICE says more.
name = "recogniser"
file = "recogniser.onnx"
sha256 = "{sha256}"
licence = "CC-BY-SA-3.0"
input = "points"              # [1, 37, samples], an even number: see src/recogniser/input.rs
output = "strokes"            # [1, 11, samples / 2]: logits of none and of six strokes, volley, two hands; seconds to contact, their spread
channels = 37
rate = 60.0
"""


def joined(models):
    """One model whose output is the mean of the models' outputs."""
    nodes, weights, outputs = [], [], []
    for k, model in enumerate(models):
        graph = compose.add_prefix(model, f"m{k}_").graph
        given, output = graph.input[0].name, graph.output[0].name
        for node in graph.node:
            node.input[:] = ["points" if name == given else name for name in node.input]
        nodes += list(graph.node)
        weights += list(graph.initializer)
        outputs.append(output)
    nodes.append(helper.make_node("Mean", outputs, ["strokes"]))
    first = models[0].graph
    graph = helper.make_graph(nodes, "recogniser", [first.input[0]], [first.output[0]], weights)
    return helper.make_model(graph, opset_imports=models[0].opset_import, ir_version=8)


def main():
    folder = Path(sys.argv[1])
    whole = joined([onnx.load(p) for p in sys.argv[2:]])
    points = np.random.default_rng(1).normal(0, 0.8, (1, 37, 240)).astype(np.float32)
    run = lambda model: onnxruntime.InferenceSession(model.SerializeToString(), providers=["CPUExecutionProvider"]).run(None, {"points": points})[0]
    before = run(whole)
    small = packed(whole)
    after = run(small)
    data = small.SerializeToString(deterministic=True)
    (folder / "recogniser.onnx").write_bytes(data)
    (folder / "recogniser.toml").write_text(CARD.format(sha256=hashlib.sha256(data).hexdigest()))
    print(f"{len(data)} bytes; outputs changed by {np.abs(before - after).max():.3f} at most, {np.abs(before - after).mean():.4f} on average")


if __name__ == "__main__":
    main()
