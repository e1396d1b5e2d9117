"""Lines typed at the keyboard."""

import io
import os
from collections.abc import Iterator

from assistant.ears.typed import TypedLines


def handed_on(stream: io.TextIOBase) -> list[str]:
    got: list[str] = []
    lines = TypedLines(stream, got.append, lambda: got.append("(end)"))  # type: ignore[arg-type]
    lines.start()
    assert lines.wait(10.0)
    return got


def test_lines_with_words_are_handed_on_in_order_and_then_the_end() -> None:
    assert handed_on(io.StringIO("six and a half thou\n\n   \n yes \nundo")) == ["six and a half thou", "yes", "undo", "(end)"]


def test_an_empty_stream_only_ends() -> None:
    assert handed_on(io.StringIO("")) == ["(end)"]


def test_bytes_that_are_no_text_are_a_line_that_is_not_understood_and_lose_no_other() -> None:
    typed = io.BytesIO(b"six thou\nZ\xe4hne\nyes\n")
    assert handed_on(io.TextIOWrapper(typed, encoding="utf-8")) == ["six thou", "Z\ufffdhne", "yes", "(end)"]


def test_a_keyboard_that_goes_away_ends_the_stream() -> None:
    class Unplugged(io.StringIO):
        def __iter__(self) -> Iterator[str]:  # type: ignore[override]
            yield "yes\n"
            raise OSError("gone")

    assert handed_on(Unplugged()) == ["yes", "(end)"]


def test_after_closing_nothing_is_handed_on() -> None:
    reading, writing = os.pipe()
    got: list[str] = []
    with os.fdopen(reading, encoding="utf-8") as stream:
        lines = TypedLines(stream, got.append, lambda: got.append("(end)"))
        lines.start()
        lines.close()
        os.write(writing, b"yes\n")
        os.close(writing)
        assert lines.wait(10.0)
    assert got == []
