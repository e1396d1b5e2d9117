"""Two builds beside each other."""

from assistant.history.compare import compared
from tests.report.jobs import Played


def test_a_build_does_not_differ_from_itself(troubled: Played) -> None:
    lines = compared(troubled.sheet(), troubled.sheet())
    assert lines
    assert not [line for line in lines if line.differs]


def test_every_final_number_of_both_is_there_and_what_one_lacks_is_empty(troubled: Played, metric: Played) -> None:
    one, other = troubled.sheet(), metric.sheet()
    lines = {line.what: line for line in compared(one, other) if line.group == "final"}
    assert set(lines) == {final.name for final in (*one.finals, *other.finals)}
    assert lines["carrier drag"].one == ""
    assert lines["carrier drag"].differs
    for final in one.finals:
        assert all(value in lines[final.name].one for value in final.values)


def test_the_effort_counts_corrections_and_not_first_packs(troubled: Played, metric: Played) -> None:
    (line,) = (line for line in compared(troubled.sheet(), metric.sheet()) if line.what == "corrections made")
    assert int(line.one) == sum(move.made and not move.move.start for move in troubled.sheet().moves) > 0
