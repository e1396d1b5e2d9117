"""The queue between workers and reader."""

from gauges.feed import Feed, Lost, Received
from gauges.reading import Status


def received(number: int) -> Received:
    """A notice that can be told from others."""
    return Received("dial", Status(str(number)), float(number))


def test_notices_come_out_in_the_order_they_went_in() -> None:
    feed = Feed()
    for number in range(3):
        feed.put(received(number))
    assert [feed.get(0), feed.get(0), feed.get(0), feed.get(0)] == [received(0), received(1), received(2), None]


def test_when_nobody_takes_the_newest_stay_the_news_of_a_loss_stays_and_drops_are_counted() -> None:
    feed = Feed(limit=3)
    lost = Lost("dial", 0.5, "unplugged")
    feed.put(lost)
    for number in range(5):
        feed.put(received(number))
    assert feed.dropped == 3
    assert [feed.get(0), feed.get(0), feed.get(0)] == [lost, received(3), received(4)]
