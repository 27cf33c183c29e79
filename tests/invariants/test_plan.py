"""The yard plan against every plan there could be."""

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drywind.judge.measures import MOVE_MINUTES
from drywind.judge.plan import WAITING_COST, Item, Plan, assign
from drywind.judge.saw_score import WORK_PER_HOUR

SITES = ("lot", "shed", "barn")
MOVING = WORK_PER_HOUR * MOVE_MINUTES / 60.0
HARM = st.floats(0.0, 5.0)


@st.composite
def items(draw: st.DrawFn) -> list[Item]:
    """Return up to four lots and stacks, no site holding more than two stacks."""
    found: list[Item] = []
    for i in range(draw(st.integers(1, 4))):
        at = draw(st.sampled_from([None, *SITES]))
        if at is not None and sum(one.at == at for one in found) == 2:
            at = None
        harm = {site: draw(HARM) for site in SITES}
        found.append(Item(f"I{i}", "red_oak", "4/4", at, harm))
    return found


def cost(plan: list[tuple[Item, str | None]]) -> float:
    return sum(
        WAITING_COST if to is None else one.harm[to] + MOVING * (one.at not in {None, to})
        for one, to in plan
    )


def told(plan: Plan) -> list[tuple[Item, str | None]]:
    return [(placing.item, placing.to) for placing in plan.placings]


@settings(max_examples=60)
@given(items(), st.integers(2, 3))
def test_no_other_plan_costs_less(waiting: list[Item], room: int) -> None:
    slots = [site for site in SITES for _ in range(room)]
    spare: list[str | None] = [*slots, *([None] * sum(one.at is None for one in waiting))]

    plan = assign(waiting, dict.fromkeys(SITES, room))

    others = (
        list(zip(waiting, chosen, strict=True))
        for chosen in set(permutations(spare, len(waiting)))
        if all(to is not None or one.at is None for one, to in zip(waiting, chosen, strict=True))
    )
    assert cost(told(plan)) == pytest.approx(min(map(cost, others)))
    assert all([to for _, to in told(plan)].count(site) <= room for site in SITES)


def test_a_stack_is_not_moved_for_less_than_the_work() -> None:
    same = Item("R1", "red_oak", "4/4", "lot", {"lot": 0.5, "shed": 0.5 - MOVING / 2})
    worth = Item("R2", "red_oak", "4/4", "lot", {"lot": 0.5, "shed": 0.0})

    plan = assign([same, worth], {"lot": 2, "shed": 2})

    assert [(p.item.name, p.to, p.minutes) for p in plan.placings] == [
        ("R1", "lot", 0),
        ("R2", "shed", MOVE_MINUTES),
    ]


def test_without_room_a_lot_waits_and_no_stack_is_lost() -> None:
    stacks = [Item(f"R{i}", "red_oak", "4/4", "lot", {"lot": 2.0}) for i in range(3)]
    lot = Item("L1", "beech", "4/4", None, {"lot": 0.1})

    plan = assign([*stacks, lot], {"lot": 2})

    assert [p.to for p in plan.placings] == ["lot", "lot", "lot", None]
    assert plan.left == {"lot": 0}
