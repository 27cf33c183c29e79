"""Whether what was advised would have held, in the weather that came."""

from drywind.judge.findings import Finding
from drywind.judge.hazards import DAY, SHELL_HOURS, WINDOW_AHEAD, pace
from drywind.judge.measures import Remedy
from drywind.judge.runs import View, advance, branch


def is_kept(remedy: Remedy, finding: Finding, view: View) -> bool | None:
    """Return whether the stack stays within its limit to the warned end, if the advice is taken.

    The work is done when the finding asks for it, and undone no more.

    Parameters
    ----------
    view
        The stack when it was advised, in the weather that came.

    Returns
    -------
    bool or None
        None where the weather that came is unknown.
    """
    if finding.act_by is None or finding.end is None:
        return None
    case = view.run.case
    end = case.hour_of(finding.end)
    last = min(max(end + DAY, SHELL_HOURS), case.hours)
    (ready,) = advance([view.run.within(last)], [min(case.hour_of(finding.act_by), last)])
    setup = remedy.applied(case.stack.setup_at(view.now))
    (done,) = advance([branch(ready, setup, view.grounds)], [last])
    # As with warnings, a window counts while half of it lies within the hours told of.
    ahead = max(0, end - WINDOW_AHEAD - ready.hour)
    judged = pace(done, ready.hour, ahead, view.limit.value)
    return None if judged.onset is None and not judged.complete else judged.onset is None
