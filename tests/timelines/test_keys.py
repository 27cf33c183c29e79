"""The key under which a decision is taken once, whatever crashes and whoever runs a pass again."""

from dataclasses import replace
from datetime import timedelta

from tests.messages.outlooks import NOW
from tests.timelines.scripts import HELD, OVER, Script, decisions, severities

from drywind.alerts.decide import Before, key_of


def keys(script: Script) -> list[str]:
    """Return the keys of the decisions that speak, each after the one before."""
    said = [d for d in decisions(script) if d.reason.speaks]
    return [key_of(d, Before(b)) for d, b in zip(said, [None, *said], strict=False)]


def test_a_pass_done_twice_comes_to_the_same_keys() -> None:
    script = list(severities(1.1, 1.4, *[0.5] * 20, 1.1))

    assert len(keys(script)) == 4
    assert keys(script) == keys(script)


def test_a_pass_done_again_minutes_later_after_a_crash_says_nothing_twice() -> None:
    """The words of the first try were never written, so both decide after the same words."""
    first, again = (decisions([(NOW + timedelta(minutes=m), OVER)])[0] for m in (0, 7))

    assert key_of(first, Before(None)) == key_of(again, Before(None))


def test_no_two_texts_of_a_long_story_share_a_key() -> None:
    story = [1.1, 1.4, *[1.4] * 145, *[0.5] * 24, *[1.1] * 75, *[0.5] * 24, 1.1]

    found = keys(severities(*story))

    assert len(found) == 9
    assert len(set(found)) == len(found)


def test_contacts_stacks_and_reasons_have_keys_of_their_own() -> None:
    (made,) = decisions([(NOW, OVER)])
    others = [
        replace(made, contact="Bob"),
        replace(made, stack="R8"),
        replace(made, hazard="wetting"),
        replace(made, reason=HELD),
    ]

    assert len({key_of(d, Before(None)) for d in [made, *others]}) == 5
