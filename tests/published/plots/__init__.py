"""Pictures of the checks of `tests/published`, drawn from the same code, for `service/MODEL.md`."""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from matplotlib import rc_context
from tests.published.plots import air, hazards, inside, outdoors, times
from tests.published.plots.look import Drawn

from drywind.report.look import STYLE

PICTURES: Mapping[str, Callable[[], Drawn]] = MappingProxyType(
    {
        "emc": air.emc,
        "monthly_emc": air.monthly_emc_of_four_places,
        "days_where_fitted": times.days_where_fitted,
        "days_elsewhere": times.days_elsewhere,
        "red_oak_by_month": times.red_oak_by_start_month,
        "sugar_maple": times.sugar_maple,
        "year": outdoors.a_year_at_ohare,
        "kiln": inside.kiln,
        "diffusion": inside.diffusion_across_the_grain,
        "exact_series": inside.exact_series,
        "other_solvers": inside.other_solvers,
        "rain": outdoors.rain_and_frost,
        "safe_losses": hazards.safe_losses,
        "check_signal": hazards.check_signal,
        "stain": hazards.stain_clocks,
        "mold": hazards.mold_index,
    }
)
"""By the name of the file, in the order of the page."""


def draw(name: str) -> Drawn:
    """Draw a picture in the one look."""
    with rc_context(STYLE):
        return PICTURES[name]()
