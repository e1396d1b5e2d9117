"""A gauge at the other end of a pseudo-terminal: what a worker opens is a real terminal device, what it hears is what a test sends.

Facts that tests build on (measured on Linux): a pseudo-terminal passes every byte whatever speed and parity are set; reading or setting
control lines fails with errno 25; closing this side is an unplugged cable for the other.
"""

import os
import random
import tty
from collections.abc import Sequence
from types import TracebackType

DAMAGES = ("bit", "lost", "doubled", "junk", "joined", "cut")


class SimulatedGauge:
    """One gauge; `device` is what to open. Use it in a with block, or `unplug` it."""

    def __init__(self) -> None:
        self._ours, theirs = os.openpty()
        tty.setraw(self._ours)
        tty.setraw(theirs)
        self.device = os.ttyname(theirs)
        # The reader opens the device by its name; we keep it open too, so that what is sent before that is kept.
        self._theirs = theirs
        self._is_open = True

    def __enter__(self) -> "SimulatedGauge":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.unplug()

    def send(self, data: bytes, sizes: Sequence[int] = (1 << 16,)) -> None:
        """Send bytes in pieces of these sizes, in turn."""
        at, turn = 0, 0
        while at < len(data):
            at += os.write(self._ours, data[at : at + sizes[turn % len(sizes)]])
            turn += 1

    def heard(self, count: int) -> bytes:
        """So many bytes that the reader wrote; waits for them."""
        data = b""
        while len(data) < count:
            data += os.read(self._ours, count - len(data))
        return data

    def unplug(self) -> None:
        """Pull the cable."""
        if self._is_open:
            self._is_open = False
            os.close(self._theirs)
            os.close(self._ours)


def damaged(frames: Sequence[bytes], kind: str, dice: random.Random) -> bytes:
    """The frames as one stream with one fault of this kind in one frame that is neither the first nor the last."""
    which = dice.randrange(1, len(frames) - 1)
    frame = bytearray(frames[which])
    at = dice.randrange(len(frame))
    if kind == "bit":
        frame[at] ^= 1 << dice.randrange(8)
    elif kind == "lost":
        del frame[at]
    elif kind == "doubled":
        frame.insert(at, frame[at])
    elif kind == "junk":
        frame[at:at] = dice.randbytes(dice.randrange(1, 4))
    elif kind == "joined":
        del frame[-1]
    elif kind == "cut":
        del frame[at:]
    else:
        raise ValueError(f"{kind!r} is not one of {', '.join(DAMAGES)}")
    return b"".join(frames[:which]) + bytes(frame) + b"".join(frames[which + 1 :])
