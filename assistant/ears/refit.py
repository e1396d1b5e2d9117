"""How sure an ear must be, fitted to the read-backs that were confirmed and refused at this bench.

The shipped bars were set on synthetic voices and few people; the journals know better. One case is one utterance whose true meaning came out
later: its posterior and fit, and whether the likeliest meaning was the true one. Cases of another ear, or another version of it, do not count.
The posterior here is the one without any prior, as everywhere (`assistant.ears`).
"""

import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from assistant.core import events as ev
from assistant.core.errors import BadInputError
from assistant.core.phrases import Phrases
from assistant.core.words import Choice, Expectation, Value, understand
from assistant.ears import READ_BACK, Bars
from assistant.files import phrases_for

MOST_WRONG = 0.005
"""Of what is read back, the share that may be wrong: the confirm catches it, but nobody listens well to the tenth wrong one."""
FEWEST_CASES = 100
POSTERIORS = (0.95, 0.97, 0.98, 0.99, 0.995, 0.999, 0.9999)
FITS = (-0.15, -0.14, -0.13, -0.12, -0.11, -0.10, -0.09, -0.08, -0.07, -0.06, -0.05, -0.04, -0.03, -0.02)
"""What the bars may become: never looser than the sound that is not heeded at all."""
FILE = "bars.toml"


@dataclass(frozen=True)
class Case:
    """One utterance whose truth is known. ear: which one heard it."""

    ear: str
    posterior: float
    fit: float
    is_right: bool


@dataclass(frozen=True)
class Refitted:
    """The bars that the cases ask for. wrong: of the cases that pass them; again: right ones that do not; cases: all."""

    bars: Bars
    cases: int
    wrong: int
    passed: int
    again: int


def cases(journal: Iterable[ev.Event]) -> Iterator[Case]:
    """The cases of one job, in its order.

    A read-back is right when it is recorded, wrong when it is refused. What passed no bar is judged when the reading that it was about is
    recorded at last.
    """
    ear = ""
    phrases = phrases_for()
    offered: ev.Offered | None = None
    unclear: list[ev.Misheard | ev.TwoOffered] = []
    for event in journal:
        if isinstance(event, ev.SpokenIn):
            phrases = phrases_for(event.language)
        elif isinstance(event, ev.EarOpened):
            ear = event.ear
        elif isinstance(event, ev.Misheard | ev.TwoOffered) and offered is None:
            unclear.append(event)
        elif isinstance(event, ev.Offered):
            offered = event
        elif isinstance(event, ev.Dropped) and event.quantity != "question" and offered is not None:
            yield from _case(ear, offered, is_right=False)
            offered = None
        elif isinstance(event, ev.Recorded | ev.SpecGiven):
            if offered is not None:
                yield from _case(ear, offered, is_right=True)
            if isinstance(event, ev.Recorded):
                yield from _judged(ear, unclear, event, phrases)
            offered, unclear = None, []
        elif isinstance(event, ev.StepBegan | ev.StepsUndone | ev.MoveProposed):
            offered, unclear = None, []


def refitted(found: Sequence[Case], heed: float = READ_BACK.heed) -> Refitted:
    """The loosest bars under which no more than 5 in 1,000 read-backs of these cases would have been wrong.

    Where none of the choices reaches that, the strictest. Raises BadInputError for fewer cases than say anything.
    """
    if len(found) < FEWEST_CASES:
        raise BadInputError(
            f"{len(found)} spoken readings whose truth is known, expected at least {FEWEST_CASES}: the bars stay as they are"
        )
    tried = [_tried(found, Bars(posterior, fit, heed)) for posterior in POSTERIORS for fit in FITS]
    good = [one for one in tried if one.wrong <= MOST_WRONG * one.passed and one.passed]
    if not good:
        return tried[-1]
    # Fewest asked again; of those that are equal the nearest to the shipped ones, for nothing speaks for moving further.
    return min(good, key=lambda one: (one.again, _steps_away(one.bars)))


def written(bars: Bars, ear: str, found: int, folder: Path) -> Path:
    """Keep the bars in the store's folder. Gives the file."""
    path = folder / FILE
    path.write_text(
        f"# Fitted to {found} spoken readings of this store; delete the file to go back to the shipped bars.\n"
        f'ear = "{ear}"\nposterior = {bars.posterior}\nfit = {bars.fit}\n',
        encoding="utf-8",
    )
    return path


def bars_in(folder: Path, ear: str) -> Bars:
    """The bars for `ear` that are kept in a store; the shipped ones where none are, or where they are another ear's.

    Raises BadInputError for a file that is damaged or whose figures lie outside what may be fitted.
    """
    path = folder / FILE
    if not path.is_file():
        return READ_BACK
    try:
        kept = tomllib.loads(path.read_text(encoding="utf-8"))
        whose, posterior, fit = str(kept["ear"]), float(kept["posterior"]), float(kept["fit"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BadInputError(f"{path} is damaged ({error}): delete it, or fit the bars again by `benchhand doctor --refit`") from error
    if not (POSTERIORS[0] <= posterior < 1.0 and FITS[0] <= fit < 0.0):
        raise BadInputError(
            f"{path}: posterior {posterior} and fit {fit}, expected {POSTERIORS[0]} to 1 and {FITS[0]} to 0: delete it, or fit the bars again"
        )
    return replace(READ_BACK, posterior=posterior, fit=fit) if whose == ear else READ_BACK


def _case(ear: str, offered: ev.Offered, *, is_right: bool) -> Iterator[Case]:
    if offered.source == "spoken" and offered.posterior is not None and offered.fit is not None:
        yield Case(ear, offered.posterior, offered.fit, is_right)


def _judged(ear: str, unclear: Iterable[ev.Misheard | ev.TwoOffered], recorded: ev.Recorded, phrases: Phrases) -> Iterator[Case]:
    for event in unclear:
        if event.posterior is not None and event.fit is not None and event.words:
            yield Case(ear, event.posterior, event.fit, _means(event.words[0], recorded, phrases))


def _means(words: str, recorded: ev.Recorded, phrases: Phrases) -> bool:
    """Whether a phrase of the ear means what was recorded."""
    if recorded.value is None:
        choice = recorded.choice or ""
        expected = Expectation(None, None, choices=(choice,), choice_words=(phrases.choice(choice),), tongue=phrases.tongue)
        return understand(words, expected) == Choice(choice)
    meant = understand(words, Expectation(recorded.quantity, recorded.value.unit, tongue=phrases.tongue))
    return isinstance(meant, Value) and meant.quantity == recorded.value


def _steps_away(bars: Bars) -> int:
    away = POSTERIORS.index(bars.posterior) - POSTERIORS.index(READ_BACK.posterior)
    return abs(away) + abs(FITS.index(bars.fit) - FITS.index(READ_BACK.fit))


def _tried(found: Sequence[Case], bars: Bars) -> Refitted:
    passed = [case for case in found if case.posterior >= bars.posterior and case.fit >= bars.fit]
    right = sum(case.is_right for case in found)
    right_passed = sum(case.is_right for case in passed)
    return Refitted(bars, len(found), len(passed) - right_passed, len(passed), right - right_passed)
