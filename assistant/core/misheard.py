"""What follows when the ear was not sure, or when a read-back was refused: ask again, then offer two, then the keys.

Rules: no guess is spoken after the first miss; on the second at one wait the two best are offered, never one of them a refused value; from the
third on the other ways in are said. What was refused here is not read back again when it is heard in the same form: a recogniser repeats its
mistakes. Typed words are never held against this. Bars are not moved by any of it.
"""

from assistant.core import english
from assistant.core import events as ev
from assistant.core.inputs import Said, Unheard
from assistant.core.state import Refused, State
from assistant.core.waits import expectation, wait
from assistant.core.words import Choice, Understood, Value, understand


def unheard(state: State, given: Unheard) -> tuple[ev.Event, ...]:
    """The events of speech that passed no bar."""
    if not given.for_us:
        return (ev.Missed(state.phrases.sentence("again"), given.reason or "not for us"),)
    misses = (state.trouble.confirms if _at_confirm(state) else state.trouble.misses) + 1
    if misses == 2 and not _at_confirm(state):
        two = _two_best(state, given.candidates)
        if two is not None:
            return (ev.TwoOffered(two, given.posterior, given.fit),)
    return (ev.Misheard(_question(state, misses), given.reason or "not heard", given.candidates, given.posterior, given.fit),)


def refused_before(state: State, meant: Understood, given: Said) -> tuple[ev.Event, ...]:
    """The events of a spoken value that was refused at this wait and is heard once more in the same form; none for anything else."""
    known = as_refused(meant)
    if given.source != "spoken" or known is None or known not in state.trouble.refused:
        return ()
    misses = state.trouble.misses + 1
    if isinstance(meant, Value):
        question = state.phrases.sentence(
            "refused_before", value=state.phrases.say(meant.quantity), otherwise=state.phrases.say(meant.quantity, "digits")
        )
    else:
        question = _question(state, max(misses, 3))
    return (ev.Misheard(question, "refused before", (given.words,), given.posterior, given.fit),)


def as_refused(meant: Understood) -> Refused | None:
    """A reading as what can be refused: its value or choice, and the form in which it was said; None for what is no reading."""
    if isinstance(meant, Value):
        return Refused(meant.quantity, None, meant.form)
    return Refused(None, meant.text, "choice") if isinstance(meant, Choice) else None


def one_of_two(state: State, answer: str, source: str) -> Said | ev.TwoRefused:
    """What "first", "second" or "neither" stands for."""
    two = state.two
    assert two is not None
    if answer == english.NEITHER:
        return ev.TwoRefused(two.words)
    return Said(two.words[english.ONE_OF_TWO.index(answer)], source)


def meanings(state: State, words: tuple[str, ...]) -> tuple[Understood, ...]:
    """What phrases of the ear mean at the open wait."""
    expected = expectation(state)
    return tuple(understand(phrase, expected) for phrase in words)


def named(state: State, words: str) -> str:
    """A phrase of the ear as it is said to choose by."""
    (meant,) = meanings(state, (words,))
    if isinstance(meant, Value):
        return state.phrases.say(meant.quantity)
    return state.phrases.choice(meant.text) if isinstance(meant, Choice) else words


def _two_best(state: State, candidates: tuple[str, ...]) -> tuple[str, str] | None:
    """The two likeliest readings that were not refused here."""
    kept: dict[object, str] = {}
    for words, meant in zip(candidates, meanings(state, candidates), strict=True):
        known = as_refused(meant)
        if known is not None and not _is_refused_in_any_form(state, known):
            kept.setdefault(known.value or known.choice, words)
    best = tuple(kept.values())[:2]
    return (best[0], best[1]) if len(best) == 2 else None


def _is_refused_in_any_form(state: State, reading: Refused) -> bool:
    return any((reading.value, reading.choice) == (known.value, known.choice) for known in state.trouble.refused)


def _at_confirm(state: State) -> bool:
    return state.asked is not None or state.offered is not None


def _question(state: State, misses: int) -> str:
    """What is said after so many misses."""
    if misses < 3:
        return state.phrases.sentence("again")
    now = wait(state)
    kind = now.kind if now is not None else "done"
    if kind == "reading" and now is not None and "take" not in now.commands:
        kind = "limit"
    return state.phrases.sentence(f"keys.{kind}")
