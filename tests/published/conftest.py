"""Checks against the outside, each a row of one table: what, by whom, ours, theirs, tolerance."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import ArrayLike

Record = Callable[[str, object], None]


class Against:
    """Holds our numbers to published ones, and keeps a row of each comparison."""

    def __init__(self, record: Record) -> None:
        self._record = record

    def value(
        self, what: str, source: str, ours: ArrayLike, theirs: ArrayLike, tolerance: ArrayLike
    ) -> None:
        """Hold `ours` to `theirs` within an absolute `tolerance`; of arrays the worst is shown."""
        mine, published, allowed = np.broadcast_arrays(
            *(np.asarray(a, dtype=float) for a in (ours, theirs, tolerance))
        )
        off = np.abs(mine - published)
        worst = np.argmax(np.where(np.isnan(off), np.inf, off - allowed))
        row = (f"{a.flat[worst]:.4g}" for a in (mine, published, allowed))
        self._row(what, source, mine.size, *row)
        np.testing.assert_array_less(off, allowed * (1 + 1e-9) + 1e-12, err_msg=what)

    def between(self, what: str, source: str, ours: ArrayLike, least: float, most: float) -> None:
        """Hold `ours` to a published range."""
        mine = np.atleast_1d(np.asarray(ours, dtype=float))
        span = f"{mine.min():.4g}" if mine.size == 1 else f"{mine.min():.4g} to {mine.max():.4g}"
        self._row(what, source, 1, span, f"{least:g} to {most:g}", "inside")
        assert ((mine >= least) & (mine <= most)).all(), f"{what}: {span} not {least:g}-{most:g}"

    def _row(self, what: str, source: str, count: int, *figures: str) -> None:
        many = f" (worst of {count})" if count > 1 else ""
        self._record("against", [what + many, source, *figures])


@pytest.fixture
def against(record_property: Record) -> Against:
    """Return what holds this test's numbers to published ones."""
    return Against(record_property)
