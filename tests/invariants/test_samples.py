"""Sample boards: in whatever order things are told, the arithmetic holds."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drywind.samples import (
    Basis,
    Entry,
    Position,
    corrected_meter_pct,
    mc_pct,
    oven_dry_kg,
    sample_boards,
)
from drywind.units import parse_mass_kg
from drywind.yard import Event, EventKind

NOW = datetime(2026, 6, 12, 18, 0, tzinfo=UTC)
masses = st.floats(0.2, 20.0)
mcs = st.floats(5.0, 200.0)


def told(kind: EventKind, day: float, entry: Entry) -> Event:
    """Return an entry of a day."""
    return Event("R7", NOW + timedelta(days=day), kind, entry.detail)


@given(masses, mcs)
def test_weight_and_moisture_content_turn_into_each_other(kg: float, at: float) -> None:
    assert mc_pct(kg, oven_dry_kg(kg, at)) == pytest.approx(at)


@given(
    st.builds(
        Entry,
        board=st.sampled_from("AB"),
        position=st.sampled_from(Position),
        kg=st.none() | masses,
        dry_kg=st.none() | masses,
        mc_pct=st.none() | mcs,
        sections=st.lists(st.tuples(masses, masses), max_size=3).map(tuple),
    )
)
def test_an_entry_is_read_as_it_was_written(entry: Entry) -> None:
    assert Entry.read(entry.detail) == entry


def test_a_mere_number_is_a_moisture_content() -> None:
    assert Entry.read("35.0") == Entry(mc_pct=35.0)


def test_a_later_oven_dry_weight_is_worth_more_than_sections_and_tells_of_all_weighings() -> None:
    events = [
        told(EventKind.SAMPLED, 0, Entry("A", kg=1.80, sections=((0.09, 0.05),))),
        told(EventKind.WEIGHED, 3, Entry("A", kg=1.65)),
    ]
    (by_sections,) = sample_boards(events, NOW + timedelta(days=9))
    events.append(told(EventKind.OVEN_DRIED, 8, Entry("A", dry_kg=1.05)))
    (by_oven,) = sample_boards(events, NOW + timedelta(days=9))

    assert (by_sections.basis, by_oven.basis) == (Basis.SECTIONS, Basis.OVEN)
    assert [r.mc_pct for r in by_sections.readings] == pytest.approx([80.0, 65.0])
    assert [r.mc_pct for r in by_oven.readings] == pytest.approx([71.43, 57.14], abs=0.01)


def test_a_weight_without_an_oven_dry_weight_is_kept_and_tells_once_there_are_two() -> None:
    first = told(EventKind.SAMPLED, 0, Entry("A", kg=1.80))
    second = told(EventKind.WEIGHED, 3, Entry("A", kg=1.65))

    (one,) = sample_boards([first], NOW + timedelta(days=9))
    (both,) = sample_boards([first, second], NOW + timedelta(days=9))

    assert [r.mc_pct for r in both.readings] == [None, None]
    assert (one.tells, both.tells) == (False, True)


def test_what_lies_ahead_of_now_is_not_known_yet() -> None:
    later = told(EventKind.WEIGHED, 3, Entry("A", mc_pct=60.0))

    assert sample_boards([later], NOW) == ()
    assert len(sample_boards([replace(later, time=NOW)], NOW)) == 1


@given(st.floats(6.0, 25.0), st.floats(-10.0, 50.0))
def test_cold_wood_reads_low(shown: float, temp_c: float) -> None:
    assert corrected_meter_pct(shown, temp_c) > corrected_meter_pct(shown, temp_c + 5.0)


def test_pounds_and_ounces_are_read() -> None:
    assert parse_mass_kg("4 lb 3.5 oz") == pytest.approx(4 * 0.45359237 + 3.5 * 0.028349523)
    assert parse_mass_kg("4lb 0oz") == pytest.approx(parse_mass_kg("4 lb"))
