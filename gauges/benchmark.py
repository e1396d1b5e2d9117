"""What the decoders let through, and how fast they are: random bytes, every single wrong bit, frames per second.

Run it with `python -m gauges.benchmark [BYTES]`. A reading counts as explained when its frame, alone in a fresh stream, says the same.
"""

import random
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import reduce
from operator import xor

from gauges.formats import FORMATS, decode
from gauges.formats.base import Decoder, LineDecoder
from gauges.formats.modbus_rtu_int32 import crc16
from gauges.reading import Fault, Reading
from gauges.settling import Agreement

_UNIT = "mm"
_CHUNK = 4096


def _even7(text: str) -> bytes:
    return bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in text.encode("ascii"))


def _with_check(body: bytes) -> bytes:
    return b"\x02" + body + b"\x03" + b"%02X" % reduce(xor, body + b"\x03")


def _with_crc(body: bytes) -> bytes:
    return body + crc16(body).to_bytes(2, "little")


# How each family sends the number `value` (0 to 9999, three decimals or what it has) as its frame number `turn`.
_SAMPLES: dict[str, Callable[[int, int], bytes]] = {
    "ascii-signed-cr": lambda value, _: _even7(f"+{value / 1000:08.3f}\r"),
    "ask-reply-cr": lambda value, _: _even7(f"-{value / 1000:.3f}=\r"),
    "ascii-fixed-unit": lambda value, _: f"+{value / 1000:8.4f}, MM\r\n".encode(),
    "ascii-status-lf": lambda value, _: f"a+{value / 1000:6.3f}M  \n".encode(),
    "multi-feature-cr": lambda value, _: _even7(f"1 +{value / 100:06.2f} mm =;2 -{value / 100:06.2f} mm;3 ERR6\r"),
    "stx-etx-bcc": lambda value, _: _with_check(f"01+{value / 1000:8.3f}MM".encode()),
    "stx-d15-cr": lambda value, _: f"\x02419403{value:08d}\r".encode(),
    "status-csv-crlf": lambda value, _: f"ST,GS,+{value / 1000:07.3f}kg\r\n".encode(),
    "mux-prefix-cr": lambda value, _: f"01A+{value / 1000:08.3f}\r".encode(),
    "bcd-13-nibble": lambda value, _: f"FFFF0{value:06d}30\r\n".encode(),
    "bin24-caliper": lambda value, _: f"{value:06X}\r\n".encode(),
    "twin24-counts": lambda value, _: f"{value + 0x13D52:06X}{value:06X}\r\n".encode(),
    "bcd-7-nibble": lambda value, _: f"{f'{value:06d}'[::-1]}4\r\n".encode(),
    "modbus-rtu-int32": lambda value, _: _with_crc(b"\x01\x03\x06" + value.to_bytes(2, "big") + b"\x00\x00\x00\x02"),
    "torque-value-unit-crlf": lambda value, _: f"{value / 100:.2f} lbFin\r\n".encode(),
    "torque-csv-peak": lambda value, turn: (
        f"+{value / 100:.4f},In.oz,PEAK,NA,{turn % 1000:03d},00001234,NAME,.000001,.000001,05/31/2011,11:45:34\r\n".encode()
    ),
    "torque-78-col": lambda value, turn: (
        f"{turn % 10000:04d}  01    1  {value / 100:5.2f}  0123  {value / 100:5.2f} {' ' * 22}001.0  002.0    O   \r\n".encode()
    ),
    "rf-position-packet": lambda value, turn: (
        b"\xff\x01A5" + bytes([turn % 256]) + b"\x0d\x01\x00\x01\x01\x01 " + f"{value / 1000:7.3f}".encode()
    ),
    "typed-line": lambda value, _: f"{value / 1000:.3f}\n".encode(),
}  # fmt: skip


def frames_of(key: str, values: list[int]) -> list[bytes]:
    """Clean frames of a family, one for each number (0 to 9999), as one gauge would send them."""
    return [_SAMPLES[key](value, turn) for turn, value in enumerate(values, start=1)]


def _fresh(key: str) -> Decoder:
    """A decoder whose first frame counts."""
    decoder = decode(key, unit=_UNIT)
    decoder.reset(keep_lock=False, whole=True)
    return decoder


def _chunks(data: bytes) -> Iterator[bytes]:
    return (data[at : at + _CHUNK] for at in range(0, len(data), _CHUNK))


@dataclass(frozen=True)
class RandomBytesResult:
    """readings: all that came out. unexplained: those that no exact frame at their place explains."""

    count: int
    readings: int
    unexplained: int
    faults: int
    seconds: float


def random_bytes(key: str, count: int, *, seed: int = 1, alphabet: bytes | None = None) -> RandomBytesResult:
    """Feed so many random bytes (of all 256, or of an alphabet) into a decoder. Any exception passes through: there must be none."""
    dice = random.Random(seed)
    decoder = _fresh(key)
    started = time.perf_counter()
    readings = unexplained = faults = 0
    kept, base = b"", 0
    while base + len(kept) < count:
        more = dice.randbytes(_CHUNK) if alphabet is None else bytes(dice.choices(alphabet, k=_CHUNK))
        # A frame may have begun in the bytes before.
        kept, base = (kept + more)[-2 * _CHUNK :], base + max(0, len(kept) + len(more) - 2 * _CHUNK)
        for event in decoder.feed(more):
            if isinstance(event, Reading):
                readings += 1
                is_there = kept[event.offset - base :].startswith(event.raw)
                unexplained += not (is_there and _says(key, event.raw) == event.text)
            elif isinstance(event, Fault):
                faults += 1
    return RandomBytesResult(base + len(kept), readings, unexplained, faults, time.perf_counter() - started)


def _says(key: str, raw: bytes) -> str | None:
    """What a frame alone in a fresh stream says."""
    decoder = _fresh(key)
    end = b"" if not isinstance(decoder, LineDecoder) else _line_end(key)
    return next((event.text for event in decoder.feed(raw + end) if isinstance(event, Reading)), None)


def _line_end(key: str) -> bytes:
    frame = frames_of(key, [1])[0]
    return frame[-2:] if frame.endswith(b"\r\n") else frame[-1:]


def alphabet_of(key: str) -> bytes:
    """The bytes that clean frames of this family are made of: random picks of them look far more like frames than random bytes."""
    return bytes(sorted(set(b"".join(frames_of(key, [1234, 5678, 9012, 3450])))))


@dataclass(frozen=True)
class BitFlipResult:
    """flips: single wrong bits tried. wrong: after how many a wrong value came out. agreed: after how many it would have been taken."""

    flips: int
    wrong: int
    agreed: int

    @property
    def wrong_share(self) -> float:
        """Wrong among flips, 0 to 1."""
        return self.wrong / self.flips


def bit_flips(key: str) -> BitFlipResult:
    """Turn round every single bit of a clean capture in which each value comes four times; see what comes out, and what two frames agree on."""
    frames = frames_of(key, [1234] * 4 + [9876] * 4)
    clean = b"".join(frames)
    expected: dict[int, set[tuple[str, str, str | None]]] = {}
    for event in _fresh(key).feed(clean):
        if isinstance(event, Reading):
            expected.setdefault(event.offset, set()).add((event.text, event.unit, event.channel))
    if len(expected) != len(frames):
        raise AssertionError(f"{key}: {len(expected)} of {len(frames)} clean frames were read")
    right = {says for all_says in expected.values() for says in all_says}
    wrong = agreed = 0
    for where in range(8 * len(clean)):
        damaged = bytearray(clean)
        damaged[where // 8] ^= 1 << where % 8
        agreement: dict[str | None, Agreement] = {}
        is_wrong = is_agreed = False
        for event in _fresh(key).feed(bytes(damaged)):
            if not isinstance(event, Reading):
                continue
            says = (event.text, event.unit, event.channel)
            is_wrong = is_wrong or says not in expected.get(event.offset, set())
            judge = agreement.setdefault(event.channel, Agreement(needs_agreement=FORMATS[key].needs_agreement))
            taken = judge.add(event, 0.0)
            is_agreed = is_agreed or (taken is not None and says not in right)
        wrong += is_wrong
        agreed += is_agreed
    return BitFlipResult(8 * len(clean), wrong, agreed)


def frames_per_second(key: str, count: int = 100_000) -> float:
    """Clean frames decoded in a second of one core's own time, fed in pieces of 4 KiB."""
    data = b"".join(frames_of(key, [turn % 10_000 for turn in range(count)]))
    decoder = _fresh(key)
    started = time.process_time()
    events = sum(len(decoder.feed(chunk)) for chunk in _chunks(data))
    seconds = time.process_time() - started
    if events < count:
        raise AssertionError(f"{key}: {events} events of {count} clean frames")
    return count / seconds


def main(count: int, *, frames: int = 100_000, keys: Iterable[str] = tuple(FORMATS)) -> int:
    """Print one row for each family; exit status 1 when any reading is unexplained or any wrong value would be taken."""
    sys.stdout.write(f"{count} random bytes, and as many of the family's own characters; every single bit of eight clean frames\n")
    sys.stdout.write(f"{'family':24}{'unexplained':>12}{'of':>8}{'flips':>8}{'wrong':>8}{'taken':>7}{'frames/s':>10}\n")
    is_bad = False
    for key in keys:
        anything = random_bytes(key, count)
        likely = random_bytes(key, count, alphabet=alphabet_of(key))
        flips = bit_flips(key)
        unexplained, readings = anything.unexplained + likely.unexplained, anything.readings + likely.readings
        speed = frames_per_second(key, frames)
        row = f"{key:24}{unexplained:>12}{readings:>8}{flips.flips:>8}{flips.wrong_share:>8.1%}{flips.agreed:>7}{speed:>10.0f}\n"
        sys.stdout.write(row)
        sys.stdout.flush()
        is_bad = is_bad or unexplained > 0 or flips.agreed > 0
    return 1 if is_bad else 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000_000))
