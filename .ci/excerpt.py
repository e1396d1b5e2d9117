"""Put what `benchhand demo` prints now into the README: run `python .ci/excerpt.py` after a sentence or a figure has changed.

Each piece goes from the first line that begins as told to the line that ends it; tests/test_docs.py compares them with the demo.
"""

import re
from collections.abc import Iterator
from pathlib import Path

from assistant.demo import run

README = Path(__file__).resolve().parent.parent / "README.md"
# (a line that has to come before, how the piece begins, how its last line begins); the last line is the first such one after the beginning.
PIECES = (
    ("", "== Backlash before teardown", "     >  Taken"),
    ("", "== Is the pinion preload right?", "   mic .*understood"),
    ("== Is the pinion preload right", "   mic .*inch pounds", "     >  Noted"),
    ("", "    --  An impact wrench", "     >  Recorded"),
    ("", "     >  The job is done", ""),
    ("", "VERDICT", "coast pattern"),
)


def pieces(lines: list[str]) -> Iterator[str]:
    """The pieces, in the order of the demo. Raises SystemExit where the demo no longer prints one: then it has to be chosen anew."""
    for piece in PIECES:
        at = 0
        places = []
        for wanted in piece:
            found = next((place for place in range(at, len(lines)) if re.match(wanted, lines[place])), None)
            if found is None:
                raise SystemExit(f"the demo prints nothing like {wanted!r} after line {at + 1}: choose another piece")
            places.append(at := found)
        yield "\n".join(lines[places[1] : places[2] + 1])


def main() -> None:
    """Rewrite the block."""
    told: list[str] = []
    run(quick=True, aloud=False, write=told.append)
    shown = "\n…\n".join(pieces("\n".join(told).splitlines()))
    text = README.read_text(encoding="utf-8")
    README.write_text(re.sub(r"(?<=\n```text\n).*?(?=\n```\n)", lambda _: shown, text, count=1, flags=re.DOTALL), encoding="utf-8")


if __name__ == "__main__":
    main()
