"""Each clip anew at each step: speed, equaliser, room, noise, clipping, level, and masks on the spectrogram. On the accelerator, where one is."""

import math
from typing import Any

import torch  # type: ignore[import-not-found,unused-ignore]
from torch.nn import functional  # type: ignore[import-not-found,unused-ignore]

from assistant.ears import RATE
from assistant.training.net import MELS

SLOWEST, FASTEST = 0.85, 1.19
_ROOM_SAMPLES = 12_800


class Augmenter:
    """Draws with a generator of its own. noise: [noises, samples] on the device."""

    def __init__(self, noise: Any, seed: int, device: str) -> None:
        self._noise, self._device = noise, device
        self._dice = torch.Generator(device=device)
        self._dice.manual_seed(seed)

    def _between(self, count: int, low: float, high: float) -> Any:
        """[count, 1], evenly between two numbers."""
        return torch.rand(count, 1, device=self._device, generator=self._dice) * (high - low) + low

    def _happens(self, count: int, share: float) -> Any:
        return self._between(count, 0.0, 1.0) < share

    def mixed(self, clips: Any, lengths: Any, samples: int) -> Any:
        """[b, samples] for learning. clips: [b, n] floats, −1 to 1, padded with zeros; lengths: of the speech in each."""
        b = len(clips)
        x = self._in_a_room(self._at_a_speed(clips, lengths, samples), samples)
        active = x.pow(2) > x.pow(2).amax(1, keepdim=True) * 1e-4
        level = (x.pow(2) * active).sum(1, keepdim=True).div(active.sum(1, keepdim=True) + 1).sqrt() * 0.7
        x = x / (level + 1e-6)
        noise = self._drawn_noise(b, samples) + self._drawn_noise(b, samples) * self._between(b, 0, 1) * self._happens(b, 0.3)
        # 22 of 100 among other voices, never louder than 6 dB under the speech.
        talks = self._happens(b, 0.22)
        noise = torch.where(talks, self._others(x, samples), noise)
        snr = torch.where(self._happens(b, 0.15), self._between(b, 35, 60), self._between(b, 2, 30))
        snr = torch.where(talks, snr.clamp(min=6), snr)
        y = x + noise / (noise.pow(2).mean(1, keepdim=True).sqrt() + 1e-6) * 10 ** (-snr / 20)
        top = y.abs().amax(1, keepdim=True) + 1e-6
        clip = torch.where(self._happens(b, 0.06), self._between(b, 0.3, 0.8), torch.ones(b, 1, device=self._device))
        return torch.minimum(torch.maximum(y, -top * clip), top * clip) / top * 10 ** (-self._between(b, 1, 14) / 20)

    def masked(self, mel: Any) -> Any:
        """A spectrogram [b, 80, t] with two stretches of time and two of frequency taken out."""
        b, _, t = mel.shape
        for size, most, axis in ((MELS, 11, 2), (t, 9, 1)) * 2:
            width, start = self._between(b, 0, most), self._between(b, 0, size)
            at = torch.arange(size, device=self._device)[None]
            mel = mel.masked_fill(((at >= start) & (at < start + width)).unsqueeze(axis), 0.0)
        return mel

    def _at_a_speed(self, clips: Any, lengths: Any, samples: int) -> Any:
        """Played faster or slower, after a moment."""
        b = len(clips)
        n = lengths.float()[:, None]
        speed = self._between(b, SLOWEST, FASTEST)
        lead = torch.minimum(self._between(b, 0.0, 0.5) * RATE, (samples - n / speed).clamp(min=0))
        at = (torch.arange(samples, device=self._device)[None].float() - lead) * speed
        inside = (at >= 0) & (at < n - 1)
        left = at.floor().clamp(min=0).minimum(n - 2).long()
        share = (at - left).clamp(0, 1)
        return (clips.gather(1, left) * (1 - share) + clips.gather(1, left + 1) * share) * inside

    def _in_a_room(self, x: Any, samples: int) -> Any:
        """Through an equaliser, a low and a high pass, and the echo of a room, each in its share."""
        b, size = len(x), samples + RATE
        spectrum = torch.fft.rfft(x, size)
        hertz = torch.fft.rfftfreq(size, 1 / RATE, device=self._device)[None]
        never = torch.full((b, 1), 20_000.0, device=self._device)
        low_pass = torch.where(self._happens(b, 0.3), self._between(b, 3000, 7000), never)
        high_pass = torch.where(self._happens(b, 0.4), self._between(b, 60, 380), torch.ones(b, 1, device=self._device))
        shape = self._curve(b, spectrum.shape[1], 9) / (1 + (hertz / low_pass) ** 12) / (1 + (high_pass / hertz.clamp(min=1)) ** 4)
        t = torch.arange(_ROOM_SAMPLES, device=self._device)[None] / RATE
        echo = torch.randn(b, _ROOM_SAMPLES, device=self._device, generator=self._dice) * torch.exp(-6.9 * t / self._between(b, 0.08, 0.75))
        echo = echo * (t > self._between(b, 0.001, 0.008))
        echo = echo / (echo.pow(2).sum(1, keepdim=True).sqrt() + 1e-9) * 10 ** (-self._between(b, -3, 18) / 20) * self._happens(b, 0.6)
        echo[:, 0] += 1
        return torch.fft.irfft(spectrum * shape * torch.fft.rfft(echo, size), size)[:, :samples]

    def _curve(self, count: int, bins: int, decibels: float) -> Any:
        """A smooth gain over the logarithm of frequency, as factors [count, bins]."""
        points = (
            (torch.rand(count, 1, 7, device=self._device, generator=self._dice) * 2 - 1) * decibels * self._between(count, 0, 1)[:, None]
        )
        hertz = torch.linspace(0, RATE / 2, bins, device=self._device)
        place = torch.log2((hertz + 60) / 60) / math.log2(8060 / 60) * 2 - 1
        grid = torch.stack([place, torch.zeros_like(place)], -1)[None, None].expand(count, 1, bins, 2)
        drawn = functional.grid_sample(points[:, :, None], grid, mode="bicubic", padding_mode="border", align_corners=True)
        return 10 ** (drawn[:, 0, 0] / 20)

    def _drawn_noise(self, count: int, samples: int) -> Any:
        """A stretch of a noise of the bank, coloured anew; root mean square 1."""
        long = self._noise.shape[1]
        row = torch.randint(0, self._noise.shape[0], (count, 1), device=self._device, generator=self._dice)
        start = (torch.rand(count, 1, device=self._device, generator=self._dice) * (long - samples - 1)).long()
        drawn = self._noise.view(-1)[row * long + start + torch.arange(samples, device=self._device)[None]].float()
        spectrum = torch.fft.rfft(drawn)
        shaped = torch.fft.irfft(spectrum * self._curve(count, spectrum.shape[1], 10), samples)
        return shaped / (shaped.pow(2).mean(1, keepdim=True).sqrt() + 1e-6)

    def _others(self, x: Any, samples: int) -> Any:
        """Three other clips of the batch, shifted: people who talk to each other."""
        shifts = torch.randint(0, samples, (3,), device=self._device, generator=self._dice).tolist()
        rolled = [x.roll(k + 1, 0).roll(shift, 1) * self._between(len(x), 0.3, 1) for k, shift in enumerate(shifts)]
        others = rolled[0] + rolled[1] + rolled[2]
        return others / (others.pow(2).mean(1, keepdim=True).sqrt() + 1e-6)
