"""Fits the weights of decode.py's confidence (LOGISTIC; src/racket/decode.rs has the same).

    calibrate.py MODEL.onnx CLIP.mp4 TRUTH FRAMES.csv …   (as for evaluate.py; clips that the network wasn't trained on)

All candidates count, those after the first a quarter; a candidate is right where its tip is within 20 % of the racket's length.
"""
import sys

import numpy as np
import onnxruntime

import evaluate

OTHERS = 0.25


def main():
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(sys.argv[1], options)
    terms, right, counts = [], [], []
    for clip in zip(*[iter(sys.argv[2:])] * 3):
        for _, found, places, points, full in evaluate.frames(session, *clip, least=0):
            for rank, candidate in enumerate(found):
                terms.append(candidate[3])
                right.append(np.linalg.norm(places(candidate)[2] - points[2]) / full < 0.2)
                counts.append(1 if rank == 0 else OTHERS)
    terms, right, counts = np.array(terms), np.array(right, float), np.array(counts)
    weights = np.zeros(terms.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-terms @ weights))
        slope = terms.T @ (counts * (right - chance)) - 0.01 * weights
        bend = (terms * (counts * chance * (1 - chance))[:, None]).T @ terms + 0.01 * np.eye(len(weights))
        weights += np.linalg.solve(bend, slope)
    print("LOGISTIC =", tuple(weights.round(3).tolist()), len(right), "candidates")


if __name__ == "__main__":
    main()
