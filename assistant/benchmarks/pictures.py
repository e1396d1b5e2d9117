"""`python -m assistant.benchmarks.pictures docs/pictures`: the pictures of the guide: the screen at moments of the demo's job, in a real Chromium.

The job is the one that `benchhand demo` plays, with its recordings through the real recogniser and decoders; the page is the one that is served.
"""

import io
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.benchmarks.screen import chromium_at
from assistant.core.effects import Effect
from assistant.core.errors import BadInputError
from assistant.core.state import State
from assistant.core.waits import wait
from assistant.demo import Demo, recordings
from assistant.screen.address import Place
from assistant.screen.server import Screen

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

MOST_BYTES = 60_000
_COLOURS = 48  # as many as its flat colours and the edges of its letters need


@dataclass(frozen=True)
class Moment:
    """One picture. holds: when the job is there; size: of the window; dark: at night."""

    name: str
    holds: Callable[[State], bool]
    size: tuple[int, int] = (1280, 800)
    dark: bool = False


def _reads(state: State, quantity: str, spot: int = 0) -> bool:
    now = wait(state)
    return now is not None and now.kind == "reading" and now.quantity == quantity and now.spot == spot


def _moves(state: State, part: str) -> bool:
    return state.move is not None and not state.caution_open and any(change.part == part for change in state.move.changes)


# In the order of the job; each is taken the first time that it holds after the one before it.
MOMENTS = (
    Moment("begin", lambda state: state.open_step is not None),
    Moment("caution", lambda state: state.caution_open, (390, 844)),
    Moment("read-back", lambda state: state.offered is not None and state.offered.quantity == "pinion_drag"),
    Moment("shims", lambda state: _moves(state, "preload_shims") and not state.move.start if state.move is not None else False),
    Moment("depth", lambda state: _reads(state, "pinion_depth"), dark=True),
    Moment("adjusters", lambda state: _moves(state, "ring_side_adjuster") and bool(state.current("ring_runout"))),
    Moment("backlash", lambda state: _reads(state, "backlash", 3) and bool(state.moves_made)),
    Moment("end", lambda state: state.verdict is not None),
)


class Photographer:
    """Follows the job with the screen, and takes each picture at its moment."""

    def __init__(self, browser: "Browser", screen: Screen, url: str, folder: Path) -> None:
        self._browser, self._screen, self._url, self._folder = browser, screen, url, folder
        self._left = list(MOMENTS)

    @property
    def missed(self) -> tuple[str, ...]:
        """The moments that have not come."""
        return tuple(moment.name for moment in self._left)

    def watch(self, state: State, effects: tuple[Effect, ...]) -> None:
        """A batch of the job."""
        self._screen.watch(state, effects)
        while self._left and self._left[0].holds(state):
            self._take(self._left.pop(0))

    def _take(self, moment: Moment) -> None:
        context = self._browser.new_context(
            viewport={"width": moment.size[0], "height": moment.size[1]},
            color_scheme="dark" if moment.dark else "light",
            reduced_motion="reduce",
        )
        page = context.new_page()
        page.goto(self._url)
        page.wait_for_selector(f'body[data-at="{self._screen.at}"]:not(.arming)')
        (self._folder / f"{moment.name}.png").write_bytes(_small(_shot(page)))
        context.close()


def _shot(page: "Page") -> bytes:
    return page.screenshot(type="png", animations="disabled")


def _small(png: bytes) -> bytes:
    """The same picture with as few colours as it needs. Raises RuntimeError when it is too large all the same."""
    from PIL import Image

    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    if out.tell() > MOST_BYTES:
        raise RuntimeError(f"a picture takes {out.tell()} bytes, expected at most {MOST_BYTES}")
    return out.getvalue()


def take(folder: Path, chromium: str) -> None:
    """Play the demo's job and take every picture. Raises BadInputError without a browser, RuntimeError when a moment never comes."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as kept, chromium_at(chromium) as browser:
        place = Place.open("127.0.0.1:0", Path(kept) / "secret")
        screen = Screen(place, lambda given, still_holds, answered: answered("nobody works here"))  # noqa: ARG005
        photographer = Photographer(browser, screen, place.url, folder)
        try:
            Demo(recordings(), lambda _: None, lambda _: None, watch=photographer.watch).run()
        finally:
            screen.close()
    if photographer.missed:
        raise RuntimeError(f"the demo's job never came to: {', '.join(photographer.missed)}")


def main(
    folder: Annotated[Path, typer.Argument(help="Where the pictures go.")],
    chromium: Annotated[str, typer.Option(metavar="PATH", help="The browser.")] = "/usr/bin/chromium",
) -> None:
    """Take the pictures of the guide anew."""
    try:
        take(folder, chromium)
    except BadInputError as error:
        typer.echo(f"pictures: {error}", err=True)
        raise typer.Exit(2) from error


if __name__ == "__main__":
    typer.run(main)
