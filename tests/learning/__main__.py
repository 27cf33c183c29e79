"""Print what weighings teach of made yards, as Markdown: `python -m tests.learning [STACKS]`."""

import sys
import time

from tests.learning.trials import STAGES, Stage, rms, stage
from tests.learning.yards import LAWS, MISTAKES, made

LAW_NAMES = {
    "own": "the model's own",
    "other": "another",
    "front": "a third, not tuned on",
    "lumped": "no profile, not tuned on",
}
SEED = 303
"""No number of the program was chosen by what comes of it."""
HEAD = (
    "| wood dries by | weighed on day | 7-day loss off by | by the table alone |"
    " MC a week on off by | by the table alone | loss within 90 % interval | MC within |"
)


def main(count: int) -> None:
    """Print both tables."""
    sys.stdout.write(f"{count} made stacks of each kind, errors in points (root mean square).\n\n")
    sys.stdout.write(f"{HEAD}\n|{'---|' * 8}\n")
    woods = {law: made(count, LAWS[law], SEED) for law in LAWS}
    for law, known in woods.items():
        for days in STAGES:
            began = time.process_time()
            found = stage(known, days)
            told = ", ".join(map(str, days)) or "never"
            sys.stdout.write(f"| {LAW_NAMES[law]} | {told} | {_cells(found)} |\n")
            sys.stderr.write(f"{time.process_time() - began:.0f} s of CPU\n")
    sys.stdout.write("\n| mistake | 7-day loss off by | by the table alone |")
    sys.stdout.write(f" MC a week on off by | by the table alone |\n|{'---|' * 5}\n")
    for name, mistake in MISTAKES.items():
        found = stage(woods["own"][: count // 2], (3, 7), mistake)
        off = (found.loss_error, found.plain_error, found.mc_error, found.plain_mc_error)
        sys.stdout.write(f"| {name} | {' | '.join(f'{rms(x):.2f}' for x in off)} |\n")


def _cells(found: Stage) -> str:
    errors = (found.loss_error, found.plain_error, found.mc_error, found.plain_mc_error)
    inside = (found.loss_inside, found.mc_inside)
    cells = [f"{rms(x):.2f}" for x in errors] + [f"{100 * x.mean():.0f} %" for x in inside]
    return " | ".join(cells)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
