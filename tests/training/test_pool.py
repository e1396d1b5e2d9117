"""The pool of clips, the batches drawn from it, and the bank of noises."""

from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from assistant.core.errors import BadInputError
from assistant.training.__main__ import app
from assistant.training.clips import SOURCES, Clip
from assistant.training.noise import KINDS, SAMPLES, bank
from assistant.training.pool import SHARES, Pool, batches, load_pool, pooled, rate_factor
from assistant.training.texts import labels


def pool_of(*counts: tuple[str, int], noises: int = 1) -> Pool:
    clips = [Clip("six thou", source, np.full(3_000 + 10 * at, at, np.int16)) for source, count in counts for at in range(count)]
    return pooled(clips, bank(noises, 1))


def test_each_clip_comes_back_with_its_own_samples_and_phones() -> None:
    pool = pool_of(("espeak", 3), ("people", 2))
    assert len(pool) == 5
    assert [int(pool.clip(number)[0]) for number in range(5)] == [0, 1, 2, 0, 1]
    assert [len(pool.clip(number)) for number in range(5)] == [3_000, 3_010, 3_020, 3_000, 3_010]
    assert all(tuple(pool.spelled(number)) == labels("six thou") for number in range(5))


def test_a_pool_is_kept_in_one_file(tmp_path: Path) -> None:
    pool = pool_of(("espeak", 3))
    pool.save(tmp_path / "pool.npz")
    again = load_pool(tmp_path / "pool.npz")
    assert np.array_equal(again.samples, pool.samples)
    assert np.array_equal(again.noise, pool.noise)


def test_a_file_that_is_no_pool_is_refused(tmp_path: Path) -> None:
    (tmp_path / "pool.npz").write_bytes(b"x")
    for path in (tmp_path / "pool.npz", tmp_path / "none.npz"):
        with pytest.raises(BadInputError, match="is no pool of clips"):
            load_pool(path)
    with pytest.raises(BadInputError, match="no clip to learn from"):
        pooled([], bank(1, 1))


def test_sources_are_drawn_by_their_shares_of_what_is_there() -> None:
    pool = pool_of(("espeak", 40), ("people", 5))
    drawn = np.concatenate(list(islice(batches(pool, 100, np.random.default_rng(1)), 24)))
    share = float(np.mean(pool.sources[drawn] == SOURCES.index("people")))
    assert share == pytest.approx(SHARES["people"] / (SHARES["people"] + SHARES["espeak"]), abs=0.03)


def test_a_batch_holds_clips_of_like_length() -> None:
    pool = pool_of(("espeak", 200))
    spread = [int(np.ptp(pool.lengths[batch])) for batch in islice(batches(pool, 20, np.random.default_rng(1)), 12)]
    assert np.median(spread) < np.ptp(pool.lengths) / 5


def test_the_rate_rises_and_then_falls_to_almost_nothing() -> None:
    factors = [rate_factor(step, 5_600) for step in range(5_600)]
    assert factors[0] < 0.01
    assert max(factors) == pytest.approx(1.0, abs=0.01)
    assert factors.index(max(factors)) in range(295, 305)
    assert factors[-1] < 0.002


def test_every_kind_of_noise_is_made_and_none_is_silent() -> None:
    made = bank(len(KINDS), 5)
    assert made.shape == (len(KINDS), SAMPLES)
    assert all(float(np.sqrt(np.mean((row / 3000.0) ** 2))) == pytest.approx(1.0, abs=0.1) for row in made.astype(float))
    assert np.array_equal(made, bank(len(KINDS), 5))


def test_the_noises_that_the_benchmarks_keep_for_themselves_are_not_learnt_in() -> None:
    from assistant.benchmarks.noises import NEVER_HEARD

    assert not set(KINDS) & set(NEVER_HEARD)


def test_the_command_makes_a_pool_and_says_what_is_in_it(tmp_path: Path) -> None:
    out = tmp_path / "pool.npz"
    done = CliRunner().invoke(app, ["pool", str(out), "--espeak", "6", "--flite", "0", "--joins", "0", "--noises", "2"])
    assert done.exit_code == 0, done.output
    assert "espeak 6, flite 0, people 0, joined 0" in done.output
    assert len(load_pool(out)) == 6


def test_a_folder_without_recordings_is_bad_input(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["pool", str(tmp_path / "pool.npz"), "--recordings", str(tmp_path)])
    assert done.exit_code == 2
    assert "holds no WAV files" in done.output
