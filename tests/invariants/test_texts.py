"""What must hold of every text, whatever the stack, the site, the numbers and the reader.

The alphabet is that of GSM 03.38 (ETSI TS 123 038, section 6.2.1), written here from memory and
by code, independently of the program's own.
"""

import re
from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.messages.outlooks import NOW, R7, ZONE, outlook, trial

from drywind.alerts.gsm7 import LONGEST, first_that_fits, plain, septets
from drywind.alerts.records import Reason
from drywind.alerts.wording import Reader, doing, text
from drywind.climate.stack_air import Board
from drywind.judge.hazards import Window
from drywind.judge.measures import Remedy, Trial
from drywind.judge.outlook import Outlook, Spell
from drywind.units import Thickness, Units
from drywind.wood.species import load_species
from drywind.yard import Measure, Setup, Stack

WHOLE_END = re.compile(
    r"(helps|has room| now| by \S+ (\d+[ap]m|noon|midnight|\d\d:\d\d)"
    r"|safe (\d+\.\d\d?|inf)|\(safe 24\)"
    r"|; done that ((-?\d+\.\d\d?|-?\d+%), )?(ok|still risky))\.$"
)
ESCAPE = "\x1b"
ALPHABET = (
    "@£$¥èéùìòÇ\nØø\rÅå"  # 00-0F
    f"Δ_ΦΓΛΩΠΨΣΘΞ{ESCAPE}ÆæßÉ"  # 10-1F
    " !\"#¤%&'()*+,-./"  # 20-2F
    "0123456789:;<=>?"  # 30-3F
    "¡ABCDEFGHIJKLMNO"  # 40-4F
    "PQRSTUVWXYZÄÖÑÜ§"  # 50-5F
    "¿abcdefghijklmno"  # 60-6F
    "pqrstuvwxyzäöñüà"  # 70-7F
)
CODES = {character: bytes([code]) for code, character in enumerate(ALPHABET) if character != ESCAPE}
CODES |= {
    character: bytes([0x1B, code])
    for character, code in zip(
        "^{}\\[~]|€", [0x14, 0x28, 0x29, 0x2F, 0x3C, 0x3D, 0x3E, 0x40, 0x65], strict=True
    )
}


def encode(words: str) -> bytes:
    """Return the septets of a text, one a byte; fails on what the alphabet lacks."""
    return b"".join(CODES[character] for character in words)


in_alphabet = st.text(st.sampled_from(sorted(CODES)), max_size=200)
long_text = st.text(st.sampled_from(sorted(CODES)), min_size=140, max_size=200)
any_text = st.text(max_size=200)
names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9 .,_'&()#/+-]{0,15}", fullmatch=True)
ids = st.from_regex(r"[A-Za-z0-9._-]{1,12}", fullmatch=True)
thicknesses = st.sampled_from(["4/4", "16/4", "27mm", "104.7mm"]).map(Thickness.parse)
stacks = st.builds(
    Stack,
    ids,
    st.sampled_from(sorted(load_species())),
    thicknesses,
    st.just(R7.stacked_at),
    st.builds(Setup, names),
)
windows = st.builds(
    Window,
    st.sampled_from(Board),
    st.integers(0, 320),
    st.sampled_from([24, 48]),
    st.floats(-20.0, 90.0),
    st.one_of(st.floats(0.1, 300.0), st.just(float("inf"))),
    st.one_of(st.none(), st.floats(0.0, 120.0)),
)
covers = [c for size in (1, 2) for c in combinations(Measure, size)]
remedies = st.one_of(
    st.builds(Remedy, st.sampled_from(covers)),
    st.builds(Remedy, st.sampled_from([(), *covers[: len(Measure)]]), names),
)
trials = st.builds(trial, remedies, windows, complete=st.booleans(), known=st.booleans())
hours = st.integers(0, 96).map(lambda h: NOW + timedelta(hours=h))
spells = st.builds(
    Spell,
    hours,
    hours,
    hours,
    st.floats(-40.0, 60.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 75.0),
)
outlooks = st.builds(
    outlook,
    st.lists(windows, min_size=1, max_size=3),
    st.one_of(st.none(), trials),
    stacks,
    st.one_of(st.none(), spells),
)
reasons = st.sampled_from([r for r in Reason if r.speaks])
readers = st.builds(Reader, st.sampled_from(Units), st.just(ZONE), st.just(NOW))


@given(outlooks, reasons, readers)
def test_every_text_is_one_message_of_the_gsm_alphabet(
    seen: Outlook, reason: Reason, reader: Reader
) -> None:
    words = text(seen, reason, reader)

    assert 0 < len(encode(words)) <= 160
    assert words.isprintable()
    assert words.endswith(".")


@given(outlooks, reasons, readers)
def test_every_text_begins_with_the_stack_and_its_site(
    seen: Outlook, reason: Reason, reader: Reader
) -> None:
    stack = seen.case.stack
    wood = stack.species.replace("_", " ")

    assert text(seen, reason, reader).startswith(
        f"drywind {stack.id} {wood} {stack.thickness.label}, {stack.setup.site}: "
    )


@given(outlooks, trials, spells, reasons, readers)
def test_no_warning_is_so_long_that_what_to_do_or_by_when_is_cut(
    seen: Outlook, chosen: Trial, spell: Spell, reason: Reason, reader: Reader
) -> None:
    assume(reason is not Reason.ALL_CLEAR)
    advised = replace(seen, chosen=chosen, spell=spell)
    act_by = advised.act_by
    assert act_by is not None

    assert f"{doing(chosen.remedy)} {reader.deadline(act_by)}." in text(advised, reason, reader)


@given(outlooks, reasons, readers)
def test_every_warning_ends_with_a_whole_sentence(
    seen: Outlook, reason: Reason, reader: Reader
) -> None:
    assume(reason is not Reason.ALL_CLEAR)

    assert WHOLE_END.search(text(seen, reason, reader)) is not None


@given(outlooks, trials, spells, reasons, readers)
def test_no_warning_calls_a_remedy_enough_that_is_not_known_to_be(
    seen: Outlook, chosen: Trial, spell: Spell, reason: Reason, reader: Reader
) -> None:
    assume(reason is not Reason.ALL_CLEAR)

    words = text(replace(seen, chosen=chosen, spell=spell), reason, reader)

    assert ("not enough, but best: " in words) is not chosen.safe
    if "; done that " in words:
        assert words.endswith("ok." if chosen.safe else "still risky.")


@given(outlooks, readers)
def test_no_all_clear_names_a_loss_over_the_safe_one(seen: Outlook, reader: Reader) -> None:
    words = text(seen, Reason.ALL_CLEAR, reader)
    loss, safe = (re.search(rf"{word} (\S+)[ .]", words) for word in ("loses", "safe"))

    assert (loss is None) is (safe is None)
    if loss is not None and safe is not None:
        assert 0 <= float(loss[1]) <= float(safe[1].rstrip("."))


@given(any_text)
def test_a_text_is_measured_as_it_is_encoded_or_refused(words: str) -> None:
    if set(words) <= CODES.keys():
        assert septets(words) == len(encode(words))
    else:
        with pytest.raises(ValueError, match="not in the GSM-7 alphabet"):
            septets(words)


@given(in_alphabet)
def test_the_whole_alphabet_passes_unchanged(words: str) -> None:
    assert septets(words) == len(encode(words))
    assert plain(words) == words


def test_the_alphabet_has_127_characters_and_9_that_cost_two_places() -> None:
    assert [septets(c) for c in CODES] == [1] * 127 + [2] * 9


@given(any_text)
def test_what_is_made_plain_differs_only_where_it_had_to(words: str) -> None:
    made = plain(words)

    assert len(made) == len(words)
    assert all(m == (w if w in CODES else "?") for m, w in zip(made, words, strict=True))


@given(st.lists(st.one_of(in_alphabet, any_text, long_text), min_size=1, max_size=4))
def test_the_first_text_that_fits_is_taken_and_one_that_does_not_is_cut(texts: list[str]) -> None:
    taken = first_that_fits(texts)
    fitting = [plain(t) for t in texts if len(encode(plain(t))) <= 160]

    assert len(encode(taken)) <= LONGEST == 160
    if fitting:
        assert taken == fitting[0]
    else:
        assert taken.endswith(".")
        assert plain(texts[-1]).startswith(taken[:-1])


def test_a_text_is_cut_no_shorter_than_it_must_be() -> None:
    assert first_that_fits(["y" * 200, "x" * 161]) == "x" * 159 + "."
    assert first_that_fits(["€" * 81]) == "€" * 79 + "."
    assert first_that_fits(["x" * 150 + " " * 11]) == "x" * 150 + "."
