"""A few steps of training, on three clips: the loss falls, and what is exported is what the ear can load. Only where torch is installed."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import torch  # type: ignore[import-not-found,unused-ignore]

from assistant.core.errors import BadInputError
from assistant.training.augment import Augmenter
from assistant.training.clips import by_espeak
from assistant.training.export import exported, largest_difference
from assistant.training.net import FRAMES, LABELS, LAYERS, WIDTH, Net, mel_filters
from assistant.training.noise import bank
from assistant.training.pool import Pool, pooled
from assistant.training.steps import Plan, trained

pytestmark = pytest.mark.filterwarnings("ignore")  # torch's exporter warns of itself


@pytest.fixture(scope="module")
def pool() -> Pool:
    return pooled(by_espeak(["six thou", "stop", "seven"], 1), bank(2, 1))


def encoder_file(path: Path, change: Callable[[dict[str, Any]], object] = lambda _: None) -> Path:
    """A starting encoder of the right shapes, its figures drawn."""
    dice = np.random.default_rng(1)
    shapes = {"conv1/weight": (WIDTH, 80, 3), "conv1/bias": (WIDTH,), "conv2/weight": (WIDTH, WIDTH, 3), "conv2/bias": (WIDTH,),
              "position_encodings/encodings": (1500, WIDTH), "layer_norm/gamma": (WIDTH,), "layer_norm/beta": (WIDTH,)}  # fmt: skip
    for layer in range(LAYERS):
        for name, wide, narrow in (("self_attention/linear_0", 3, 1), ("self_attention/linear_1", 1, 1), ("ffn/linear_0", 4, 1),
                                   ("ffn/linear_1", 1, 4)):  # fmt: skip
            shapes[f"layer_{layer}/{name}/weight"] = (wide * WIDTH, narrow * WIDTH)
            shapes[f"layer_{layer}/{name}/bias"] = (wide * WIDTH,)
        for name in ("self_attention/layer_norm", "ffn/layer_norm"):
            shapes[f"layer_{layer}/{name}/gamma"] = shapes[f"layer_{layer}/{name}/beta"] = (WIDTH,)
    arrays: dict[str, Any] = {
        "encoder|" + name.replace("/", "|"): dice.normal(0, 0.02, shape).astype(np.float16) for name, shape in shapes.items()
    }
    change(arrays)
    np.savez(path, **arrays)
    return path


def test_a_few_steps_lower_the_loss(pool: Pool) -> None:
    losses: list[float] = []
    weights = trained(pool, Plan(steps=12, batch=4, rate=3e-4), None, lambda _step, loss: losses.append(loss))
    assert len(losses) == 12
    assert all(np.isfinite(losses))
    assert np.mean(losses[-3:]) < np.mean(losses[:3])
    assert set(weights) == set(Net().state_dict())


def test_the_file_says_what_the_net_says(tmp_path: Path) -> None:
    net = Net().eval()
    path = tmp_path / "net.onnx"
    assert len(exported(net.state_dict(), path)) == 64
    assert largest_difference(net, path) < 0.15
    assert path.stat().st_size < 12_000_000


def test_a_starting_encoder_is_taken_whole(tmp_path: Path) -> None:
    net = Net()
    path = encoder_file(tmp_path / "encoder.npz")
    net.begin_from(path)
    with np.load(path) as kept:
        assert np.array_equal(net.places.detach().numpy(), kept["encoder|position_encodings|encodings"][:FRAMES].astype(np.float32))
        assert np.array_equal(net.blocks[2].wide.weight.detach().numpy(), kept["encoder|layer_2|ffn|linear_0|weight"].astype(np.float32))


def test_a_starting_encoder_that_is_not_whole_is_refused(tmp_path: Path) -> None:
    path = encoder_file(tmp_path / "encoder.npz", lambda arrays: arrays.pop("encoder|layer_3|ffn|linear_1|bias"))
    with pytest.raises(BadInputError, match=r"encoder\.npz is no starting encoder"):
        Net().begin_from(path)


def test_kept_layers_stay_as_they_were(pool: Pool, tmp_path: Path) -> None:
    path = encoder_file(tmp_path / "encoder.npz")
    weights = trained(pool, Plan(steps=2, batch=4, kept_layers=2), path, lambda _step, _loss: None)
    start = Net()
    start.begin_from(path)
    before = start.state_dict()
    assert torch.allclose(weights["first.weight"], before["first.weight"])
    assert torch.allclose(weights["blocks.1.out.weight"], before["blocks.1.out.weight"])
    assert not torch.allclose(weights["blocks.2.out.weight"], before["blocks.2.out.weight"])


def test_the_net_has_a_frame_each_20_ms_and_its_labels_are_probabilities() -> None:
    found = Net().eval()(torch.randn(2, 32_000) * 0.1)
    assert tuple(found.shape) == (2, 100, LABELS)
    assert torch.allclose(found.exp().sum(-1), torch.ones(2, 100), atol=1e-5)


def test_the_mel_filters_have_area_one() -> None:
    # Slaney's normalisation: each triangle's height is 2 over its width in hertz, so that its area is 1; bins are 40 Hz apart.
    areas = mel_filters()[50:].sum(1) * 40.0
    assert np.allclose(areas, 1.0, atol=0.05)


def test_augmented_clips_are_of_the_asked_length_and_never_overdriven() -> None:
    dice = torch.Generator().manual_seed(1)
    clips = torch.randn(6, 16_000, generator=dice) * 0.1
    mixed = Augmenter(torch.tensor(bank(2, 1)), 1, "cpu").mixed(clips, torch.full((6,), 16_000), 32_000)
    assert tuple(mixed.shape) == (6, 32_000)
    assert torch.isfinite(mixed).all()
    assert float(mixed.abs().max()) <= 1.0
