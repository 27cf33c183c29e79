"""Every guess of this layer as rows of the one table that `drywind sensitivity` prints."""

from collections.abc import Sequence

from drywind.learn import ahead, doubt, outcomes, ready, site
from drywind.learn.priors import PRIORS, Row


def learning_rows() -> Sequence[Row]:
    """Return the priors, then what else is guessed of readings, dates, loggers and outcomes."""
    beliefs = site.BELIEFS
    return [
        *PRIORS.rows(),
        Row("at_rest", ahead.AT_REST, 0.11, 0.16, "MC at which boards outdoors come to rest"),
        Row("doubt_sds", doubt.SURPRISE, 3, 5, "deviations from which a reading is asked about"),
        Row("doubt_pct", doubt.LEAST_PCT, 3, 8, "points below which none is"),
        Row("doubt_gain_pct", doubt.GAIN_PCT, 5, 12, "points no board gains, weather unknown"),
        Row("doubt_share", doubt.CHANGE_SHARE, 0.3, 0.8, "of a change foreseen that may differ"),
        Row("weigh_days", ready.WEIGH_DAYS, 7, 21, "days in which one to weigh is looked for"),
        Row("weigh_enough", ready.ENOUGH_SHARE, 0.7, 0.95, "of what the best day teaches"),
        Row("weigh_least", ready.LEAST_TAUGHT, 0.05, 0.2, "narrowing worth a weighing"),
        *(
            Row(f"site_{name}_sd", beliefs[name].sd, low, high, f"a site's {name}, by its scale")
            for name, low, high in (("temp_c", 0.7, 3), ("rh", 0.2, 0.6), ("wind_ms", 0.3, 1))
        ),
        Row("logger_sun", site.SUNNY_K_PER_KWM2, 4, 10, "K per kW/m2 of a logger in the sun"),
        Row("limit_margin", outcomes.MARGIN, 0.8, 1, "of the least loss that checked, proposed"),
    ]
