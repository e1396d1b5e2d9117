"""Somebody at the page: looks at what is there, waits until it may be pressed, and presses."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.core.waits import wait
from tests.browser.conftest import SHOTS
from tests.screen.running import Running
from tests.table import GOOD

if TYPE_CHECKING:
    from playwright.sync_api import Page

# Longer than anything that has just appeared stays inert (page.js, ARMING_CAUTION).
LONG_ENOUGH = 1_600


class Hands:
    """Plays a job through the page alone. answers: what the axle reads, where it is not what a good one does."""

    def __init__(self, page: "Page", bench: Running, answers: dict[str, list[str]] | None = None) -> None:
        self.page, self.bench = page, bench
        self.answers = {name: [told] if isinstance(told, str) else list(told) for name, told in {**GOOD, **(answers or {})}.items()}
        self.presses = 0
        page.wait_for_selector("body[data-at] #main")

    @property
    def at(self) -> str:
        """The state that the page shows."""
        return self.page.get_attribute("body", "data-at") or ""

    @property
    def state(self) -> Any:
        """The job itself, as the engine has it."""
        return self.bench.bench.state

    def ready(self) -> None:
        """Let time pass until what has just appeared can be pressed."""
        self.page.clock.fast_forward(LONG_ENOUGH)
        self.page.wait_for_selector("body:not(.arming)")

    def moved_on(self, before: str) -> None:
        """Wait until the page shows another state."""
        self.page.wait_for_selector(f'body:not([data-at="{before}"])')
        self.presses += 1

    def press(self, words: str) -> None:
        """The button that says `words`."""
        self.ready()
        before = self.at
        self.page.click(f'[data-say="{words}"]:visible')
        self.moved_on(before)

    def enter(self, figures: str) -> None:
        """A reading on the number pad."""
        self.ready()
        before = self.at
        for figure in figures:
            self.page.click(f'#pad [data-k="key {figure}"]')
        assert self.page.inner_text("#figures") == figures
        self.page.click("#enter")
        self.moved_on(before)

    def next_answer(self) -> str:
        """What the axle reads now, or what is chosen."""
        now = wait(self.state)
        assert now is not None
        if now.kind in ("done", "caution", "confirm"):
            return {"done": "done", "caution": "understood", "confirm": "yes"}[now.kind]
        if now.kind == "choice":
            told = self.answers.get(self.state.open_step or "", ["centre middle" if now.quantity else now.choices[0]])
        else:
            told = next(self.answers[key] for key in (f"{now.quantity} {now.part}", str(now.quantity)) if key in self.answers)
        return told.pop(0) if len(told) > 1 else told[0]

    def go_on(self) -> None:
        """Answer what is waited for, on the pad or by a button."""
        now = wait(self.state)
        assert now is not None
        if now.kind == "reading":
            self.enter(self.next_answer().split()[0])
        else:
            self.press(self.next_answer())

    def until(self, step: str, limit: int = 250) -> None:
        """Go on until a step is on the bench with its own wait."""
        for _ in range(limit):
            if self.state.open_step == step and not self.state.caution_open and self.state.offered is None:
                return
            self.go_on()
        raise AssertionError(f"{step} was not reached; the job is at {self.state.open_step}")

    def picture(self, name: str) -> None:
        """Keep a picture for a person, where one is wanted."""
        if SHOTS:
            Path(SHOTS).mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=str(Path(SHOTS) / f"{name}.png"))
