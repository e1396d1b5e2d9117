"""What is old is never shown as live, what has just appeared is never pressed by mistake, and the page finds its bench again by itself."""

from pathlib import Path

import pytest

from assistant.core.axle import Job
from assistant.core.decide import decide
from assistant.core.events import CautionShown
from assistant.core.inputs import Said
from tests.browser.conftest import Opened
from tests.browser.hands import Hands
from tests.screen.running import Running, new_job, resumed_job


def test_a_lost_bench_is_told_at_once_and_its_number_is_struck_out(job: Job, tmp_path: Path, opened: Opened) -> None:
    with new_job(job, tmp_path) as bench:
        page = opened(bench.place.url)
        hands = Hands(page, bench)
        hands.until("baseline.backlash")
        hands.enter("0.012")
        hands.press("yes")
        assert page.inner_text("#live-word") == "live"
        assert page.is_hidden("#old")
        assert "line-through" not in page.eval_on_selector(".figure", "node => getComputedStyle(node).textDecorationLine")
        port = bench.place.port
        bench.screen.close()
        page.wait_for_selector("body.stale")
        assert page.inner_text("#live-word") == "NOT LIVE"
        assert page.inner_text("#signal").startswith("NOT LIVE")
        assert "old, not live" in page.inner_text("#number")
        assert "line-through" in page.eval_on_selector(".figure", "node => getComputedStyle(node).textDecorationLine")
        assert page.title().startswith("NOT LIVE")
        assert page.is_hidden("#bottom"), "nothing can be pressed that nobody hears"
        hands.picture("stale")
    with resumed_job(tmp_path, f"127.0.0.1:{port}") as again:
        page.clock.fast_forward(2_000)
        page.wait_for_selector("body:not(.stale)")
        assert page.inner_text("#live-word") == "live"
        assert page.inner_text("#signal") == ""
        assert page.is_visible("#bottom")
        hands = Hands(page, again)
        hands.enter("0.013")
        assert page.inner_text("#number .figure").split() == ["0.013", "in"]


def test_silence_alone_is_enough_to_doubt_what_is_shown(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    Hands(page, bench)
    # A phone that slept: time has passed and nothing was heard.
    page.clock.pause_at(page.evaluate("Date.now() + 60000"))
    page.wait_for_selector("body.stale")
    assert page.inner_text("#live-word") == "NOT LIVE"
    page.clock.resume()
    page.wait_for_selector("body:not(.stale)")
    assert page.inner_text("#live-word") == "live"


def test_how_a_job_ended_stays_true_when_the_bench_is_gone(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    while bench.bench.state.verdict is None:
        before = hands.at
        bench.loop.put(Said(hands.next_answer()))
        hands.moved_on(before)
    bench.screen.close()
    page.wait_for_selector("body.over")
    assert page.inner_text(".end .shouted") == "IN SPEC"
    assert page.inner_text("#live-word") == "ended"
    assert "stale" not in (page.get_attribute("body", "class") or "")


def test_a_job_that_rests_is_not_shown_as_live(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    Hands(page, bench)
    bench.rest()
    bench.screen.close()
    page.wait_for_selector("body.stale")
    assert "The job rests" in page.inner_text("#signal")


def test_a_double_tap_answers_once(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    hands.ready()
    first = bench.bench.state.open_step
    page.dblclick('[data-say="done"]')
    page.wait_for_selector("#now .title:has-text('How the axle stands')")
    assert bench.bench.state.open_step == "baseline.state"
    assert first == "intake.manual"


def test_a_caution_that_has_just_come_cannot_be_accepted_unread(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    while not any(isinstance(event, CautionShown) for event in decide(bench.bench.state, Said(hands.next_answer()))):
        hands.go_on()
    bench.loop.put(Said(hands.next_answer()))
    # A thumb that was on its way: it comes down on the button, and a finger on its key, in the moment they are there.
    page.evaluate("""() => new Promise((done) => {
        const look = () => {
            const button = document.querySelector('.caution [data-say="understood"]');
            if (!button) return setTimeout(look, 10);
            button.click();
            document.body.dispatchEvent(new KeyboardEvent('keydown', {key: 'u', bubbles: true}));
            done();
        };
        look();
    })""")
    assert bench.bench.state.caution_open
    hands.press("understood")
    assert not bench.bench.state.caution_open


def test_whoever_has_scrolled_away_is_brought_back_to_a_caution(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url, 390, 700)
    hands = Hands(page, bench)
    while not bench.bench.state.caution_open:
        page.evaluate("page.scrollTop = page.scrollHeight")
        before = hands.at
        bench.loop.put(Said(hands.next_answer()))
        hands.moved_on(before)
    assert page.evaluate("page.scrollTop") == 0
    assert page.title().startswith("CAUTION")


def test_two_screens_follow_each_other_and_only_one_answer_counts(bench: Running, opened: Opened) -> None:
    one, other = opened(bench.place.url), opened(bench.place.url, 390, 844)
    first, second = Hands(one, bench), Hands(other, bench)
    first.ready()
    second.ready()
    before = first.at
    assert second.at == before
    one.click('[data-say="done"]')
    second.moved_on(before)
    assert second.at == one.get_attribute("body", "data-at")
    # What the second one still had under its thumb is refused, and said so.
    second.ready()
    other.evaluate("at => { shown.at = at; }", before)
    other.click('[data-say="still together"]')
    other.wait_for_selector("#said p.here")
    assert "gone on" in other.inner_text("#said")
    assert bench.bench.state.open_step == "baseline.state"


def test_a_view_that_cannot_be_made_shows_no_number(
    bench: Running, opened: Opened, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    hands.until("baseline.backlash")
    hands.enter("0.012")

    def broken(*_: object) -> None:
        raise RuntimeError("drawn wrongly")

    monkeypatch.setattr("assistant.screen.hub.view", broken)
    bench.loop.put(Said("yes"))
    page.wait_for_selector("body.failed")
    assert page.is_hidden("#number")
    assert page.is_hidden("#bottom")
    assert "cannot show the job" in page.inner_text("#shout")
    assert "Recorded" in page.inner_text("#said"), "what is said is still there to read"
    assert "drawn wrongly" in capsys.readouterr().err
    monkeypatch.undo()
    bench.loop.put(Said("why"))
    page.wait_for_selector("body:not(.failed)")
    assert page.is_visible("#number")


# ---- keys


def test_a_phone_is_let_in_by_the_key_in_its_address_and_needs_it_once(job: Job, tmp_path: Path, opened: Opened) -> None:
    with new_job(job, tmp_path, "0.0.0.0:0") as bench:
        assert bench.place.keys is not None
        url = f"http://127.0.0.1:{bench.place.port}/"
        page = opened(f"{url}#{bench.place.keys.bench}", 390, 844)
        hands = Hands(page, bench)
        assert bench.place.keys.bench not in page.url, "the key does not stay in sight"
        hands.press("done")
        page.reload()
        page.wait_for_selector("#main:not([hidden])")


def test_without_a_key_it_is_asked_for_and_a_wrong_one_is_refused(job: Job, tmp_path: Path, opened: Opened) -> None:
    with new_job(job, tmp_path, "0.0.0.0:0") as bench:
        assert bench.place.keys is not None
        page = opened(f"http://127.0.0.1:{bench.place.port}/", 390, 844)
        page.wait_for_selector("#entry:not([hidden])")
        assert page.is_hidden("#main")
        page.fill("#key", "aaaa-bbbb-cccc")
        page.click("#entry button")
        page.wait_for_selector("#key-said:not(:empty)")
        page.fill("#key", bench.place.keys.bench.upper())
        page.click("#entry button")
        page.wait_for_selector("#main:not([hidden])")
        assert page.is_hidden("#entry")


def test_a_viewer_has_nothing_to_press(job: Job, tmp_path: Path, opened: Opened) -> None:
    with new_job(job, tmp_path, "0.0.0.0:0") as bench:
        assert bench.place.keys is not None
        page = opened(f"http://127.0.0.1:{bench.place.port}/#{bench.place.keys.viewer}")
        page.wait_for_selector("body.viewer[data-at]")
        assert page.is_visible("#viewer")
        assert page.locator("[data-say]:visible").count() == 0
        assert page.is_hidden("#words-form")
        at = page.get_attribute("body", "data-at")
        page.clock.fast_forward(2_000)
        page.keyboard.press("d")
        bench.loop.put(Said("why"))
        page.wait_for_selector(f'body:not([data-at="{at}"])')
        assert bench.bench.state.open_step == "intake.manual"


def test_without_script_the_page_says_what_it_needs(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url, scripted=False)
    assert "JavaScript" in page.inner_text("noscript")
