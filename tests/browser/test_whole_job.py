"""A whole job played through the page alone, in Chromium: every number on the pad, every caution accepted by its own button."""

from collections import Counter

from assistant.core.events import CautionAccepted, CautionShown, Offered, Recorded
from assistant.core.waits import wait
from tests.browser.conftest import Opened
from tests.browser.hands import Hands
from tests.screen.running import Running


def test_a_job_with_two_corrections_and_a_false_alarm_ends_in_spec(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url, 1920, 1080, size="far")
    hands = Hands(
        page,
        bench,
        {
            "pinion_drag": [
                "12 lb-in",
                "12 lb-in",
                "12 lb-in",
                "22 lb-in",
            ],  # the pack was changed and nothing answered: asked again, then alarm
            "backlash": ["0.0150 in", "0.0160 in", "0.0155 in", "0.0082 in"],
            "pinion_depth": ["2.6290 in", "2.6232 in"],
        },
    )
    seen: Counter[str] = Counter()
    while bench.bench.state.verdict is None:
        assert hands.presses < 300, "the job does not end"
        state, now = bench.bench.state, wait(bench.bench.state)
        assert now is not None
        if state.caution_open:
            seen["caution"] += 1
            step = state.step()
            assert step is not None
            caution = page.inner_text(".caution")
            assert "CAUTION" in caution
            assert state.phrases.steps[step.text].caution in caution
            assert page.is_hidden("#now"), "nothing of the step is seen before its caution is accepted"
            assert page.is_hidden("#focus")
            assert not page.is_visible('[data-say="done"]')
        elif now.kind == "confirm" and now.value is not None:
            seen["confirm"] += 1
            assert page.inner_text("#number .figure").split() == [now.value.text, now.value.unit]
            assert "is it right" in page.inner_text("#number .status")
        elif state.alarm is not None:
            seen["alarm"] += 1
            for suspect in state.alarm.likely:
                assert suspect.cause in page.inner_text(".alarm")
                assert suspect.check in page.inner_text(".alarm")
            hands.picture("far-alarm")
        elif state.move is not None:
            seen["move"] += 1
            assert page.locator(".headlines li").count() == len(state.move.changes)
            assert page.locator("#focus svg").count() >= 1
        elif state.doubted is not None:
            seen["doubt"] += 1
            assert state.doubted.reason in page.inner_text(".doubt")
            assert "Not kept" in page.inner_text("#number .status")
        hands.go_on()
    page.wait_for_selector(".end")
    assert page.inner_text(".end .shouted") == "IN SPEC"
    assert set(seen) == {"caution", "confirm", "alarm", "move", "doubt"}

    events = bench.bench.journal.load().events
    shown = [event.step for event in events if isinstance(event, CautionShown)]
    accepted = [event.step for event in events if isinstance(event, CautionAccepted)]
    assert shown == accepted
    assert len(shown) == seen["caution"]
    recorded = [(event.quantity, event.value) for event in events if isinstance(event, Recorded)]
    offered = [(event.quantity, event.value) for event in events if isinstance(event, Offered)]
    assert recorded == offered, "each number was read back, and kept as it was read back"


def test_a_job_is_gone_through_by_keyboard_alone(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    keys = {"done": "d", "understood": "u", "yes": "y"}
    for _ in range(60):
        now = wait(bench.bench.state)
        assert now is not None
        hands.ready()
        before, answer = hands.at, hands.next_answer()
        if now.kind == "reading":
            page.keyboard.type(answer.split()[0])
            assert page.inner_text("#figures") == answer.split()[0]
            page.keyboard.press("Enter")
        elif now.kind == "choice":
            # A choice has no letter of its own: it is reached like any button.
            page.focus(f'[data-say="{answer}"]')
            page.keyboard.press("Enter")
        else:
            page.keyboard.press(keys[answer])
        hands.moved_on(before)
    assert {"baseline_backlash", "baseline_total_drag", "old_stack_thickness"} <= {r.quantity for r in bench.bench.state.readings}
    assert hands.presses == 60


def test_everything_else_that_can_be_said_can_be_pressed(bench: Running, opened: Opened) -> None:
    page = opened(bench.place.url)
    hands = Hands(page, bench)
    hands.until("baseline.backlash")
    hands.enter("0.012")
    hands.press("yes")
    for words, said in (("why", "Used gears go back"), ("help", "Say the reading"), ("what do you have", "I have")):
        hands.press(words)
        assert said in page.inner_text("#said")
    hands.press("repeat")
    hands.press("undo")
    assert "Taken back" in page.inner_text("#said")
    assert page.inner_text("#number .status").startswith("void")
    hands.press("hold")
    assert page.is_hidden("#pad")
    hands.press("resume")
    hands.enter("0.012")
    hands.press("yes")
    # correct and go back ask which
    hands.ready()
    before = hands.at
    page.click('[data-say="correct"]')
    page.click('#list-body [data-say="correct backlash before teardown"]')
    hands.moved_on(before)
    assert bench.bench.state.asked is not None
    hands.press("no")
    hands.ready()
    before = hands.at
    page.click('[data-say="go back"]')
    page.click("#list-body button >> nth=0")
    hands.moved_on(before)
    assert bench.bench.state.asked is not None
    assert bench.bench.state.asked.action == "go back"
    hands.press("no")
    # and any words at all
    hands.ready()
    before = hands.at
    page.fill("#words", "eight and a half thou")
    page.click("#words-form button")
    hands.moved_on(before)
    assert page.inner_text("#number .figure").split()[0] == "0.0085"
    hands.press("no")
    hands.press("stop")
    hands.press("yes")
    page.wait_for_selector(".end")
    assert page.inner_text(".end .shouted") == "STOPPED"
