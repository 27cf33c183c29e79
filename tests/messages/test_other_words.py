"""The words on stain, mold and rain, and on covers that come off again."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from tests.messages.outlooks import (
    BURLAP,
    CLOTH,
    EARLY,
    LATE,
    METRIC,
    NOW,
    R7,
    TO_SHED,
    US,
    local,
    outlook,
    read,
    trial,
)

from drywind.alerts.gsm7 import septets
from drywind.alerts.other_words import other_text
from drywind.alerts.records import Reason
from drywind.alerts.story import Told, message
from drywind.alerts.wording import Reader
from drywind.climate.stack_air import Board
from drywind.judge.findings import Finding, Hazard, Sign
from drywind.judge.measures import THIN_M, Remedy, Trial
from drywind.judge.outlook import Outlook
from drywind.yard import Measure

HOUR = timedelta(hours=1)
CALM = replace(LATE, loss_pct_per_day=1.0)
STAIN = Finding(
    "R7", "gravel", Hazard.STAIN, Sign.SUGAR_STAIN, 3.6, 3.0, 1.2, Board.TYPICAL,
    first=local(15, 14), start=NOW, end=local(15, 14),
)  # fmt: skip
RAIN = Finding(
    "R7", "gravel", Hazard.WETTING, Sign.RAIN, 12.0, 2.0, 2.0, Board.TOP,
    first=local(13, 17), start=local(13, 17), end=local(14, 3),
)  # fmt: skip
BRIGHT = replace(STAIN, value=0.9, severity=0.3, first=None, end=None)
DRY = replace(RAIN, value=0.0, severity=0.0, first=None, start=None, end=None)
OPENED = Remedy((), off=(Measure.PACKS_CLOSED, Measure.BURLAP))
ROOF = Remedy((Measure.PILE_ROOF,))


def seen(found: Finding, remedy: Remedy | None = None, *, after: Finding | None = None) -> Outlook:
    """Return an outlook of a stack that dries slowly, with what was chosen and what is left."""
    chosen = None
    if remedy is not None:
        chosen = replace(trial(remedy, CALM), others=() if after is None else (after,))
    other = DRY if found.hazard is Hazard.STAIN else BRIGHT
    return replace(outlook([CALM], chosen), others=(found, other))


def words(view: Outlook, hazard: Hazard, reader: Reader = US) -> str:
    """Return the text, which must fit one message."""
    text = other_text(view, view.finding(hazard), Reason.FIRST, reader)
    assert septets(text) <= 160
    return text


def test_stain_to_come_tells_what_dries_the_stack_in_time() -> None:
    assert words(seen(STAIN, TO_SHED, after=BRIGHT), Hazard.STAIN) == (
        "drywind R7 red oak 4/4, gravel: move to long shed by Mon 2pm."
        " Dries too slowly: sugar stain likely by Mon; done that, ok."
    )


def test_covers_that_invite_stain_come_off() -> None:
    blue = replace(STAIN, sign=Sign.BLUE_STAIN)
    assert words(seen(blue, OPENED, after=BRIGHT), Hazard.STAIN, METRIC) == (
        "drywind R7 red oak 4/4, gravel: open up the packs + take the burlap off by Mon 14:00."
        " Dries too slowly: blue stain likely by Mon; done that, ok."
    )


def test_what_only_slows_stain_is_not_called_enough() -> None:
    left = replace(STAIN, severity=1.1)
    assert words(seen(STAIN, TO_SHED, after=left), Hazard.STAIN) == (
        "drywind R7 red oak 4/4, gravel: not enough, but best: move to long shed by Mon 2pm."
        " Dries too slowly: sugar stain likely by Mon; that only slows it."
    )


def test_stain_that_nothing_keeps_off_is_said_all_the_same() -> None:
    assert words(seen(replace(STAIN, sign=Sign.MOLD)), Hazard.STAIN) == (
        "drywind R7 red oak 4/4, gravel: nothing we tried dries it in time."
        " Dries too slowly: mold likely by Mon."
    )


def test_rain_on_a_half_dried_stack_tells_when_and_how_much() -> None:
    assert words(seen(RAIN, ROOF, after=DRY), Hazard.WETTING) == (
        "drywind R7 red oak 4/4, gravel: put a pile roof on by Sat 5pm."
        " Rain Sat 5pm-Sun 3am (0.5 in) on half-dried boards: they check inside."
    )


def test_rain_that_wind_drives_in_is_told_from_rain_on_top() -> None:
    driven = replace(RAIN, board=Board.EDGE)
    assert words(seen(driven, Remedy((Measure.TARP,)), after=DRY), Hazard.WETTING, METRIC) == (
        "drywind R7 red oak 4/4, gravel: tarp it by Sat 17:00."
        " Driven rain Sat 17:00-Sun 03:00 (12 mm) on half-dried boards: they check inside."
    )


def test_within_its_limit_there_is_nothing_to_say() -> None:
    with pytest.raises(ValueError, match="nothing to say"):
        other_text(seen(BRIGHT), BRIGHT, Reason.FIRST, US)


def mail(view: Outlook, hazard: Hazard = Hazard.TOO_FAST) -> str:
    """Return the e-mail of a first warning."""
    told = Told(NOW - 3 * HOUR, "nws")
    return message(view, Reason.FIRST, US, told, hazard).story


def test_the_mail_on_stain_is_called_so_and_tells_of_the_other_dangers() -> None:
    told = message(
        seen(STAIN, TO_SHED, after=BRIGHT),
        Reason.FIRST,
        US,
        Told(NOW - 3 * HOUR, "nws"),
        Hazard.STAIN,
    )

    assert told.subject == "drywind: R7 red oak 4/4, gravel: drying too slowly"
    assert "\n  stain and mold: sugar stain by Mon\n  rain: none foreseen on" in told.story
    assert told.html


def test_the_mail_on_hot_wind_tells_how_far_stain_has_come() -> None:
    view = replace(outlook([LATE], trial(CLOTH, CALM)), others=(BRIGHT, RAIN))

    assert "stain and mold: 30 % of the way to sugar stain at the end of the" in mail(view)
    assert "rain: 0.5 in on half-dried boards, Sat 5pm" in mail(view)


def test_the_table_of_what_was_tried_tells_side_effects_and_how_sure_it_is() -> None:
    tried = (
        replace(trial(CLOTH, CALM), chance=0.7),
        replace(trial(BURLAP, CALM), others=(STAIN,)),
        replace(trial(ROOF, LATE), others=(RAIN,)),
    )
    told = mail(replace(outlook([LATE]), trials=tried, chosen=tried[0]))

    assert "hang shade cloth: 1.0 pts/day, safe in 7 of 10 weathers (about" in told
    assert "hang burlap: 1.0 pts/day, sugar stain (about" in told
    assert "put a pile roof on: 5.9 pts/day, still too fast and rain gets in (about" in told


def lifted(remedy: Remedy) -> Trial:
    """Return a trial whose covers come off on Sunday evening."""
    return replace(trial(remedy, replace(EARLY, shell_pct=30.0)), off_at=local(14, 19))


def test_covers_are_said_to_come_off_again() -> None:
    late = replace(trial(CLOTH, CALM), off_at=local(14, 19))

    assert read(outlook([LATE], late)).endswith("; done that 1.0, ok. Off Sun 7pm.")


def test_the_mail_tells_that_covers_come_off_again_where_the_text_has_no_room() -> None:
    view = outlook([EARLY], lifted(BURLAP), replace(R7, stacked_at=NOW - 6 * HOUR))

    assert " Off " not in read(view)
    assert "It can come off again Sun 7pm: on for longer it only slows" in mail(view)


def test_a_roof_stays_on() -> None:
    view = outlook([LATE], trial(ROOF, CALM))

    assert "come off" not in mail(view)
    assert "Leave it on" not in mail(view)


def test_other_hazards_it_is_warned_of_are_named_where_there_is_room() -> None:
    told = Told(NOW - 3 * HOUR, "nws")
    short = replace(outlook([LATE], trial(CLOTH, CALM)), others=(BRIGHT, RAIN))
    also = (Hazard.WETTING,)
    said = message(short, Reason.FIRST, US, told, also=also)
    crowded = replace(seen(RAIN, ROOF, after=DRY), odds=None)

    assert said.text.endswith(" ok. And rain.")
    assert septets(said.text) <= 160
    assert (
        "Also" not in message(crowded, Reason.FIRST, US, told, Hazard.WETTING, (Hazard.STAIN,)).text
    )


@pytest.mark.parametrize(
    ("remedy", "entered"),
    [
        (OPENED, ["uncovered packs_closed", "uncovered burlap"]),
        (Remedy((), sticker_m=THIN_M), ['restickered "0.5 in"']),
        (Remedy((Measure.TARP,), "long shed"), ['moved "long shed"', "covered tarp"]),
    ],
)
def test_whatever_is_done_can_be_entered(remedy: Remedy, entered: list[str]) -> None:
    told = mail(outlook([LATE], trial(remedy, CALM)))

    for what in entered:
        assert f"\n  drywind stack event R7 {what}\n" in told


def test_a_tarp_comes_with_its_caution() -> None:
    told = mail(outlook([LATE], trial(Remedy((Measure.TARP,)), CALM)))

    assert "look under it every day, and take it off at the first mold" in told


def test_half_dried_lumber_may_go_to_the_kiln_early() -> None:
    wet = outlook([LATE], trial(CLOTH, CALM))
    dry = replace(wet, run=replace(wet.run, mc_pct=np.full_like(wet.run.mc_pct, 28.0)))

    assert "At 28 % MC it can also go to the kiln early" in mail(dry)
    assert "kiln" not in mail(wet)
