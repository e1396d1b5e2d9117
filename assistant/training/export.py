"""Weights to the file that the ear loads: ONNX, with 8-bit weights in the matrix products, checked against the net it was made from."""

import hashlib
from pathlib import Path
from typing import Any

import numpy as np
import torch  # type: ignore[import-not-found,unused-ignore]

from assistant.training.net import Net

MOST_DIFFERENCE = 0.15
"""In any label's probability, on noise: more means that the file is not the net. Eight-bit weights came to about a tenth of it."""


def exported(weights: dict[str, Any], path: Path) -> str:
    """Write `weights` to `path`. Gives its SHA-256. Raises ValueError when the file does not say what the net says."""
    from onnxruntime.quantization import QuantType, quantize_dynamic

    net = Net()
    net.load_state_dict({name: value.float() for name, value in weights.items()})
    net.eval()
    whole = path.with_suffix(".fp32.onnx")
    torch.onnx.export(
        net, (torch.randn(1, 32_000) * 0.1,), str(whole), input_names=["wav"], output_names=["logp"], opset_version=17, dynamo=False,
        dynamic_axes={"wav": {1: "n"}, "logp": {1: "t"}},
    )  # fmt: skip
    quantize_dynamic(str(whole), str(path), weight_type=QuantType.QInt8, op_types_to_quantize=["MatMul", "Gemm"], per_channel=True)
    whole.unlink()
    difference = largest_difference(net, path)
    if difference > MOST_DIFFERENCE:
        raise ValueError(f"{path} differs by {difference:.3f} in probability from the net it was made from")
    return hashlib.sha256(path.read_bytes()).hexdigest()


def largest_difference(net: Net, path: Path) -> float:
    """The largest difference in a label's probability between a net and a file, on noise of three lengths."""
    import onnxruntime

    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    found = 0.0
    for samples in (16_000, 40_000, 90_000):
        wav = np.random.default_rng(0).standard_normal((1, samples)).astype(np.float32) * 0.1
        (mine,) = session.run(None, {"wav": wav})
        with torch.no_grad():
            theirs = net(torch.tensor(wav)).numpy()
        found = max(found, float(np.abs(np.exp(mine) - np.exp(theirs)).max()))
    return found
