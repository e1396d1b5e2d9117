"""The ear without sound: lines typed at the keyboard, handed on as they come. Their words are understood by the core like spoken ones."""

import io
import threading
from collections.abc import Callable
from typing import TextIO


class TypedLines:
    """Reads lines in a thread of its own, so that the job never waits for the keyboard."""

    name = "typed"

    def __init__(self, stream: TextIO, said: Callable[[str], None], ended: Callable[[], None]) -> None:
        """said: takes each line that holds words. ended: called once, when no more can come (the stream ended or broke).

        Bytes that are no text are not understood, like any slip of the fingers, and lose no line before or after them.
        """
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
        self._stream, self._said, self._ended = stream, said, ended
        self._closed = False
        # A daemon: a read of the keyboard cannot be interrupted, and must not keep the program alive.
        self._thread = threading.Thread(target=self._run, name="typed", daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def close(self) -> None:
        """Hand nothing on any more."""
        self._closed = True

    def wait(self, seconds: float) -> bool:
        """Wait for the end of the stream, `seconds` at most. Gives whether it has come."""
        self._thread.join(seconds)
        return not self._thread.is_alive()

    def _run(self) -> None:
        try:
            for line in self._stream:
                if self._closed:
                    return
                if line.strip():
                    self._said(line.strip())
        # The keyboard is gone: that ends the stream, like its own end.
        except (OSError, ValueError):
            pass
        self._ended()
