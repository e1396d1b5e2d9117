"""A bench of a shop: it writes to a folder of its own, and what it wrote is carried to the shop's database beside the work.

The bench never waits for the database: its journals lie in the folder, synced as ever, and a reply takes as long while the database is away. What
has to be carried is told by the database itself, so nothing is lost or doubled whenever either of them stops.
"""

import atexit
import hashlib
import json
import os
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from assistant.core.errors import BadInputError, JournalError
from assistant.journal.lines import is_job_id
from assistant.journal.sql import Shop, WentOnElsewhereError, is_url, lines_of

EVERY_SECONDS = 1.0
_LAST_TRY_SECONDS = 3.0
_ASK_SECONDS = 2
_ROLE, _MIRRORED = "shop.role", "shop.mirrored"


def spool_folder(url: str, home: Path) -> Path:
    """The bench's own folder for a shop's store. home: the folder of this user account's own jobs. Raises BadInputError: no database is meant."""
    if not is_url(url):
        raise BadInputError(f"store {url!r} is no database: expected postgresql://… or sqlite:///…")
    return home / f"shop-{hashlib.sha256(url.encode()).hexdigest()[:12]}"


class Carrier:
    """Carries the journals of a folder to a shop's database."""

    def __init__(self, folder: Path, url: str) -> None:
        """Nothing is opened before the first round. folder: it need not be there yet."""
        self._folder, self._url = folder, url
        self._shop: Shop | None = None
        self._carried: dict[str, int] = {}  # the size of each journal when it was carried last
        self._batches: dict[str, int] = {}  # the last batch of each job that the database holds
        self.refused: dict[str, str] = {}  # jobs that went on elsewhere, and what was said of them

    def carry(self) -> int:
        """One round: everything that the database does not hold yet. Gives how many lines were new to it.

        Raises JournalError when the database is away: the next round goes on where this one stopped.
        """
        if self._shop is None:
            self._shop = Shop(self._url)
            self._batches = self._shop.batches()
        return sum(self._carry_job(self._shop, path) for path in sorted(self._folder.glob("*.jsonl")))

    def _carry_job(self, shop: Shop, path: Path) -> int:
        job_id, size = path.stem, path.stat().st_size
        if self._carried.get(job_id) == size or job_id in self.refused:
            return 0
        held = self._batches.get(job_id, 0)
        here = lines_of(path.read_bytes()[:size])
        # The last batch that both have is sent along once more: that it is the same one shows that no other bench went on with the job.
        common = min(held, here[-1].batch if here else 0)
        lines = [line for line in here if line.batch >= common]
        try:
            new = shop.add(job_id, lines)
        except WentOnElsewhereError as error:
            self.refused[job_id] = str(error)
            return 0
        if lines:
            self._batches[job_id] = max(held, lines[-1].batch)
        self._carried[job_id] = size
        return new

    def close(self) -> None:
        """Let go of the database."""
        if self._shop is not None:
            self._shop.close()


def is_viewer(folder: Path, url: str, *, ask_again: bool) -> bool:
    """Whether this account may look and not write. It is asked of the database once, and noted beside the jobs.

    ask_again: whether an account that could only look may have got more since. While the database is away the note counts, and without one a
    bench is taken for a bench: it never waits. Raises BadInputError for a wrong URL.
    """
    noted = read_role(folder)
    if noted == "bench" or (noted == "viewer" and not ask_again):
        return noted == "viewer"
    try:
        shop = Shop(url, _ASK_SECONDS)
    except JournalError:
        return noted == "viewer"
    try:
        looks = shop.is_for_looking
    except JournalError:
        return noted == "viewer"
    finally:
        shop.close()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / _ROLE).write_text("viewer" if looks else "bench", encoding="ascii")
    return looks


def read_role(folder: Path) -> str:
    """What was noted last; empty when nothing was."""
    try:
        return (folder / _ROLE).read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def mirror(folder: Path, url: str) -> int:
    """Bring everything that the shop holds to a viewer's folder, and what went on since. Gives how many jobs came or went on.

    Raises JournalError when the database is away: what is there stays to be looked at.
    """
    shop = Shop(url)
    try:
        held = _noted(folder)
        news = {job_id: batch for job_id, batch in shop.batches().items() if is_job_id(job_id) and held.get(job_id) != batch}
        for job_id, batch in news.items():
            raw = shop.raw(job_id)
            _write(folder / f"{job_id}.jsonl", raw)
            _touched(folder / f"{job_id}.jsonl", raw)
            held[job_id] = batch
        if news:
            (folder / _MIRRORED).write_text(json.dumps(held), encoding="utf-8")
    finally:
        shop.close()
    return len(news)


def _noted(folder: Path) -> dict[str, int]:
    """How far each job was brought; a note that is missing or damaged only costs that all are brought once more."""
    try:
        held = json.loads((folder / _MIRRORED).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return held if isinstance(held, dict) else {}


def _touched(path: Path, raw: bytes) -> None:
    """The file's time becomes that of the last entry, so that the job touched last comes first here too."""
    with suppress(ValueError, KeyError, OSError):
        at = datetime.fromisoformat(str(json.loads(raw.splitlines()[-1])["at"])).timestamp()
        os.utime(path, (at, at))


def fetch(folder: Path, url: str, wanted: Sequence[str] | None) -> list[str]:
    """Bring jobs of other benches into this one's folder. wanted: which; None: every one that is not here. Gives those that came.

    Raises BadInputError for a wrong URL, JournalError: the database is away, or a job that is wanted is not there or is here already.
    """
    shop = Shop(url)
    try:
        here = {path.stem for path in folder.glob("*.jsonl")}
        names = sorted(shop.batches().keys() - here) if not wanted else list(dict.fromkeys(wanted))
        for job_id in names:
            if not is_job_id(job_id):
                raise JournalError(f"{job_id!r} is no name of a job: expected letters, figures, dots and dashes")
            if job_id in here:
                raise JournalError(f"job {job_id} is at this bench already")
            _write(folder / f"{job_id}.jsonl", shop.raw(job_id))
    finally:
        shop.close()
    return names


def _write(path: Path, raw: bytes) -> None:
    """Under another name first, so that a crash leaves no half of a job."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(".taking")
    with beside.open("wb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def keep_carrying(carrier: Carrier, tell: Callable[[str], None]) -> Callable[[], None]:
    """Carry beside the work, round after round, until the process ends or what is given back is called; then once more.

    tell: what the bench should know: that the database is away, that it is back, that a job went on elsewhere. It is told once each.
    """
    stop, done = threading.Event(), threading.Event()

    def rounds() -> None:
        away = False
        told: set[str] = set()
        while True:
            last = stop.is_set()
            try:
                carrier.carry()
                if away:
                    tell("the shop's store is back: everything has been carried")
                away = False
                for job_id in carrier.refused.keys() - told:
                    tell(f"{carrier.refused[job_id]}; it is kept at this bench alone")
                    told.add(job_id)
            except BadInputError as error:
                tell(str(error))
                break
            except (JournalError, OSError) as error:
                if not away:
                    tell(f"{error}; the job goes on here, and is carried when the store is back")
                away = True
            if last:
                break
            stop.wait(EVERY_SECONDS)
        carrier.close()
        done.set()

    threading.Thread(target=rounds, name="carrier", daemon=True).start()

    def end() -> None:
        stop.set()
        done.wait(_LAST_TRY_SECONDS)

    atexit.register(end)
    return end
