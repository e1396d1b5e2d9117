"""The benchmark of learning plays the same axles both ways, and the axles of a family are alike."""

import random

from assistant.benchmarks.builds import OTHER
from assistant.benchmarks.learning import _LAYOUTS, family, of_family


def test_a_family_lies_within_the_ranges_of_axles_in_general_and_is_narrow() -> None:
    for seed in range(20):
        constants = family(random.Random(seed))
        for name in ("drag_rise", "drag_bend", "carrier_rate", "notch_lead_thou"):
            (low, high), (least, most) = getattr(constants, name), getattr(OTHER, name)
            assert least * 0.95 <= low < high <= most * 1.05
            assert high - low <= 0.09 * high


def test_the_same_axles_are_played_with_and_without_what_was_learned() -> None:
    taught, pairs = of_family(_LAYOUTS[1], family(random.Random(1)), 2, 2, 900)
    assert taught
    played = list(pairs)
    assert [pair.taught.seed for pair in played] == [pair.plain.seed for pair in played] == [902, 903]
    assert all(pair.taught.verdict == pair.plain.verdict == "in spec" for pair in played)


def test_without_teachers_both_ways_are_the_same() -> None:
    taught, pairs = of_family(_LAYOUTS[0], family(random.Random(1)), 0, 1, 910)
    assert taught == ()
    (pair,) = pairs
    assert (pair.taught.inputs, pair.taught.assemblies) == (pair.plain.inputs, pair.plain.assemblies)
