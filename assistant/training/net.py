"""The net itself: the encoder of a public speech model (Whisper tiny.en, MIT), cut to six seconds, and one layer to 40 labels.

The spectrogram is part of it, so that the exported file takes nothing but samples: [1, n] at 16 kHz, to natural logs, [1, frames, 40].
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import torch  # type: ignore[import-not-found,unused-ignore]
from torch import nn  # type: ignore[import-not-found,unused-ignore]
from torch.nn import functional  # type: ignore[import-not-found,unused-ignore]

from assistant.core.errors import BadInputError
from assistant.ears import RATE
from assistant.ears.spellings import PHONES

if TYPE_CHECKING:
    from numpy.typing import NDArray

LABELS = len(PHONES) + 1
FRAMES = 300
"""The longest sound: 300 frames of 20 ms."""
MELS, WINDOW, HOP = 80, 400, 160
WIDTH, LAYERS, HEADS = 384, 4, 6
# Our names, and those of the starting encoder's file.
_NORMS = (("norm_before_attention", "self_attention/layer_norm"), ("norm_before_feed", "ffn/layer_norm"))
_LINEARS = (
    ("query_key_value", "self_attention/linear_0"), ("out", "self_attention/linear_1"), ("wide", "ffn/linear_0"), ("narrow", "ffn/linear_1"),
)  # fmt: skip


def mel_filters() -> "NDArray[np.float32]":
    """[80, 201]: triangles on Slaney's mel scale, each of area 1, as the encoder was trained with (M. Slaney, Auditory Toolbox, 1998)."""

    def hertz(mel: "NDArray[np.float64]") -> "NDArray[np.float64]":
        return np.where(mel < 15, mel * 200 / 3, 1000 * np.exp((mel - 15) * np.log(6.4) / 27))

    top = 15 + 27 * np.log(8000 / 1000) / np.log(6.4)
    edges = hertz(np.linspace(0, top, MELS + 2))
    bins = np.arange(WINDOW // 2 + 1) * RATE / WINDOW
    up = (bins[None] - edges[:-2, None]) / (edges[1:-1] - edges[:-2])[:, None]
    down = (edges[2:, None] - bins[None]) / (edges[2:] - edges[1:-1])[:, None]
    return np.asarray(np.maximum(0, np.minimum(up, down)) * (2 / (edges[2:] - edges[:-2]))[:, None], np.float32)


class LogMel(nn.Module):  # type: ignore[misc,unused-ignore]
    """Samples [b, n] to the logs of 80 mel bands [b, 80, n / 160], the Fourier matrix as a convolution."""

    def __init__(self) -> None:
        super().__init__()
        n, k = np.arange(WINDOW), np.arange(WINDOW // 2 + 1)[:, None]
        window = 0.5 - 0.5 * np.cos(2 * np.pi * n / WINDOW)
        angle = 2 * np.pi * k * n / WINDOW
        basis = np.concatenate([np.cos(angle) * window, -np.sin(angle) * window])
        self.register_buffer("basis", torch.tensor(basis[:, None], dtype=torch.float32), persistent=False)
        self.register_buffer("filters", torch.tensor(mel_filters()), persistent=False)

    def forward(self, wav: Any) -> Any:
        """The spectrogram; the quietest is eight decades under the loudest."""
        padded = functional.pad(wav[:, None], (WINDOW // 2, WINDOW // 2), mode="reflect")
        waves = functional.conv1d(padded, self.basis, stride=HOP)
        power = waves[:, : WINDOW // 2 + 1] ** 2 + waves[:, WINDOW // 2 + 1 :] ** 2
        mel = torch.log10(torch.clamp(torch.matmul(self.filters, power[:, :, :-1]), min=1e-10))
        return (torch.maximum(mel, mel.amax(dim=(1, 2), keepdim=True) - 8.0) + 4) / 4


class Block(nn.Module):  # type: ignore[misc,unused-ignore]
    """One layer of attention."""

    def __init__(self, drop: float) -> None:
        super().__init__()
        self.norm_before_attention, self.norm_before_feed = nn.LayerNorm(WIDTH), nn.LayerNorm(WIDTH)
        self.query_key_value, self.out = nn.Linear(WIDTH, 3 * WIDTH), nn.Linear(WIDTH, WIDTH)
        self.wide, self.narrow = nn.Linear(WIDTH, 4 * WIDTH), nn.Linear(4 * WIDTH, WIDTH)
        self.drop = nn.Dropout(drop)

    def forward(self, x: Any) -> Any:
        """[b, t, width] to the same."""
        b, t, _ = x.shape
        q, k, v = self.query_key_value(self.norm_before_attention(x)).view(b, t, 3, HEADS, WIDTH // HEADS).permute(2, 0, 3, 1, 4)
        # Written out: the exporter's own form of attention is slower on one core.
        mixed = torch.softmax(q @ k.transpose(-1, -2) * (WIDTH // HEADS) ** -0.5, -1) @ v
        x = x + self.drop(self.out(mixed.transpose(1, 2).reshape(b, t, WIDTH)))
        return x + self.drop(self.narrow(functional.gelu(self.wide(self.norm_before_feed(x)))))


class Net(nn.Module):  # type: ignore[misc,unused-ignore]
    """Samples to phones."""

    def __init__(self, drop: float = 0.05) -> None:
        super().__init__()
        self.log_mel = LogMel()
        self.first, self.second = nn.Conv1d(MELS, WIDTH, 3, padding=1), nn.Conv1d(WIDTH, WIDTH, 3, stride=2, padding=1)
        self.places = nn.Parameter(torch.randn(FRAMES, WIDTH) * 0.02)
        self.blocks = nn.ModuleList(Block(drop) for _ in range(LAYERS))
        self.norm, self.head = nn.LayerNorm(WIDTH), nn.Linear(WIDTH, LABELS)

    def encode(self, mel: Any) -> Any:
        """[b, 80, 2 t] to [b, t, width]."""
        x = functional.gelu(self.second(functional.gelu(self.first(mel)))).transpose(1, 2)
        x = x + self.places[: x.shape[1]]
        for block in self.blocks:
            x = block(x)
        return self.norm(x)

    def forward(self, wav: Any) -> Any:
        """[b, n] to natural logs [b, t, 40]."""
        return functional.log_softmax(self.head(self.encode(self.log_mel(wav))).float(), -1)

    def begin_from(self, path: Path) -> None:
        """Take the starting encoder from an .npz of its arrays ("encoder|conv1|weight" …). Raises BadInputError when it is not whole."""
        try:
            with np.load(path) as kept:
                arrays = {name.replace("|", "/").removeprefix("encoder/"): kept[name] for name in kept.files}
            named = {
                "first.weight": arrays["conv1/weight"], "first.bias": arrays["conv1/bias"], "second.weight": arrays["conv2/weight"],
                "second.bias": arrays["conv2/bias"], "places": arrays["position_encodings/encodings"][:FRAMES],
                "norm.weight": arrays["layer_norm/gamma"], "norm.bias": arrays["layer_norm/beta"],
            }  # fmt: skip
            for layer in range(LAYERS):
                pairs = [(ours, theirs, ("gamma", "beta")) for ours, theirs in _NORMS]
                pairs += [(ours, theirs, ("weight", "bias")) for ours, theirs in _LINEARS]
                for ours, theirs, ends in pairs:
                    for end, their_end in zip(("weight", "bias"), ends, strict=True):
                        named[f"blocks.{layer}.{ours}.{end}"] = arrays[f"layer_{layer}/{theirs}/{their_end}"]
            left = self.load_state_dict({name: torch.tensor(np.asarray(array, np.float32)) for name, array in named.items()}, strict=False)
        except (OSError, ValueError, KeyError, RuntimeError) as error:
            raise BadInputError(f"{path} is no starting encoder: {error}") from error
        assert set(left.missing_keys) == {"head.weight", "head.bias"}, left
