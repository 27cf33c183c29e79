"""Replay seasons and write what came of them: a CSV file, and a Markdown table beside it.

    .venv/bin/python -m tests.season FILE.csv 2011 2012 2013
    .venv/bin/python -m tests.season FILE.csv 2015 2016 2017 greensboro tampa

A year is one observed at O'Hare. Four woods are stacked on the 1st of each month at 8:00, under a
pile roof on open gravel and in a shed, and watched for 120 days or until they are at 25 %, with a
pass every six hours. Years run side by side, two at a time; one takes about five minutes.
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.season.seasons import PLACES, season
from tests.season.tables import rows_of, write


def main() -> None:
    """Replay."""
    if len(sys.argv) < 3 or not set(sys.argv[2:]) <= set(PLACES):
        sys.exit(f"{__doc__}\nYears: {', '.join(PLACES)}")
    file, names = Path(sys.argv[1]), sys.argv[2:]
    with ProcessPoolExecutor(2) as pool:
        results = list(pool.map(season, names))
    write(file, rows_of(results))
    for result in results:
        sys.stderr.write(
            f"{result.name}: {result.stacks} stacks, {result.seconds:.0f} s, "
            f"{result.seconds / result.stacks:.2f} s a stack\n"
        )


if __name__ == "__main__":
    main()
