"""Writes a trained net as ONNX: bytes in, weights stored in half precision and widened when the file is loaded.

    export.py WEIGHTS.pt OUT.onnx [--width W]
"""
import argparse
import os

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from net import SIDE, Exported, RacketNet


def in_halves(path):
    """Stores larger float weights as half precision, each with a Cast back."""
    model = onnx.load(path)
    graph, casts, kept = model.graph, [], []
    for weight in graph.initializer:
        values = numpy_helper.to_array(weight)
        if weight.data_type != TensorProto.FLOAT or values.size < 64:
            kept.append(weight)
            continue
        name = weight.name + ".half"
        kept.append(numpy_helper.from_array(values.astype(np.float16), name))
        casts.append(helper.make_node("Cast", [name], [weight.name], to=TensorProto.FLOAT))
    del graph.initializer[:]
    graph.initializer.extend(kept)
    nodes = list(graph.node)
    del graph.node[:]
    graph.node.extend(casts + nodes)
    model.producer_name, model.producer_version, model.doc_string = "toeline", "", ""
    for node in graph.node:
        node.doc_string = ""
    onnx.checker.check_model(model)
    onnx.save(model, path)


def export(net, path):
    net = Exported(net.eval().float().cpu())
    old = {"dynamo": False} if hasattr(torch, "compile") else {}
    axes = {name: {0: "N"} for name in ("image", "heat", "seen")}
    torch.onnx.export(
        net, torch.zeros(1, 3, SIDE, SIDE), path, input_names=["image"], output_names=["heat", "seen"], opset_version=13,
        dynamic_axes=axes, **old,
    )
    in_halves(path)
    print(path, os.path.getsize(path), "bytes", flush=True)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("weights")
    parser.add_argument("out")
    parser.add_argument("--width", type=float, default=1.3)
    args = parser.parse_args()
    net = RacketNet(args.width)
    net.load_state_dict(torch.load(args.weights, map_location="cpu"))
    export(net, args.out)


if __name__ == "__main__":
    main()
