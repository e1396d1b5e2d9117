"""The training itself: connectionist temporal classification on freshly drawn clips, and a running mean of the weights."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import torch  # type: ignore[import-not-found,unused-ignore]
from torch.nn import functional  # type: ignore[import-not-found,unused-ignore]

from assistant.ears import RATE
from assistant.training.augment import SLOWEST, Augmenter
from assistant.training.net import FRAMES, HOP, Net
from assistant.training.pool import Pool, batches, rate_factor

LONGEST_SAMPLES = FRAMES * 2 * HOP
SILENT_SHARE = 0.015
"""Of the clips, noise alone with nothing to write down."""


@dataclass(frozen=True)
class Plan:
    """How to train. rate: the encoder's highest; a low one keeps more of what it knew of people. kept_layers: the first that stay as they were."""

    steps: int = 5_600
    batch: int = 224
    rate: float = 8e-5
    head_rate: float = 1.5e-3
    kept_layers: int = 0
    seed: int = 1


def trained(pool: Pool, plan: Plan, start: Path | None, tell: Callable[[int, float], None]) -> dict[str, Any]:
    """Train, and give the running mean of the weights by name. start: the starting encoder; None begins from nothing.

    tell: gets step and loss a phone. Raises BadInputError for a starting encoder that is none.
    """
    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(plan.seed)
    net = Net()
    if start is not None:
        net.begin_from(start)
    net.to(device)
    _keep(net, plan.kept_layers)
    head = list(net.head.parameters())
    rest = [one for name, one in net.named_parameters() if not name.startswith("head") and one.requires_grad]
    rates = (plan.rate, plan.head_rate)
    optimiser = torch.optim.AdamW([{"params": rest}, {"params": head}], lr=plan.rate, weight_decay=0.01, betas=(0.9, 0.98))
    mean = {name: value.detach().clone() for name, value in net.state_dict().items()}
    dice = np.random.default_rng(plan.seed)
    augmenter = Augmenter(torch.tensor(pool.noise, device=device), plan.seed, device)
    drawn = batches(pool, plan.batch, dice)
    for step in range(plan.steps):
        for group, rate in zip(optimiser.param_groups, rates, strict=True):
            group["lr"] = rate * rate_factor(step, plan.steps)
        loss = _loss(net, pool, next(drawn), augmenter, dice, device)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimiser.step()
        share = min(0.999, (2 + step) / (11 + step))
        with torch.no_grad():
            for name, value in net.state_dict().items():
                mean[name].lerp_(value, 1 - share)
        tell(step, float(loss.item()))
    return {name: value.cpu() for name, value in mean.items()}


def _keep(net: Net, layers: int) -> None:
    """The convolutions, places and first layers stay as they were."""
    for name, value in net.named_parameters():
        part, _, rest = name.partition(".")
        is_early = part in ("first", "second", "places") or (part == "blocks" and int(rest.partition(".")[0]) < layers)
        if layers and is_early:
            value.requires_grad_(False)


def _loss(net: Net, pool: Pool, numbers: Any, augmenter: Augmenter, dice: np.random.Generator, device: str) -> Any:
    """The mean loss a phone of one batch."""
    lengths = pool.lengths[numbers]
    clips = np.zeros((len(numbers), int(lengths.max())), np.float32)
    for row, number in enumerate(numbers):
        clips[row, : lengths[row]] = pool.clip(int(number)) / 32768.0
    spelled = [pool.spelled(int(number)) for number in numbers]
    counts = torch.tensor([len(one) for one in spelled])
    longest = max(float(lengths.max()) / SLOWEST, RATE / 2)
    samples = int(min(LONGEST_SAMPLES, longest + dice.uniform(0.1, 0.9) * RATE)) // (2 * HOP) * (2 * HOP)
    with torch.no_grad():
        wav = augmenter.mixed(torch.tensor(clips, device=device), torch.tensor(lengths, device=device), samples)
        silent = torch.tensor(dice.random(len(numbers)) < SILENT_SHARE)
        if silent.any():
            rows = dice.integers(len(pool.noise), size=int(silent.sum()))
            wav[silent.to(device)] = torch.tensor(pool.noise[rows, :samples] / 8000.0, dtype=wav.dtype, device=device)
            counts[silent] = 0
        mel = augmenter.masked(net.log_mel(wav))
    with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
        logits = net.head(net.encode(mel))
    log_labels = functional.log_softmax(logits.float(), -1).transpose(0, 1)
    wanted = [torch.tensor(one) for one, count in zip(spelled, counts, strict=True) if count]
    targets = torch.cat(wanted) if wanted else torch.zeros(0, dtype=torch.long)
    frames = torch.full((len(numbers),), len(log_labels), dtype=torch.long)
    lost = functional.ctc_loss(
        log_labels, targets.to(device), frames.to(device), counts.to(device), blank=0, reduction="none", zero_infinity=True
    )
    return (lost / counts.to(device).clamp(min=1)).mean()
