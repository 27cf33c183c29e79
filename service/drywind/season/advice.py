"""Whether what was advised would have held, in the weather that came."""

from drywind.judge.findings import Finding
from drywind.judge.hazards import DAY, SHELL_HOURS, WINDOW_AHEAD, pace
from drywind.judge.measures import Trial
from drywind.judge.runs import View, advance, branch
from drywind.judge.slow import stain
from drywind.judge.wetting import wetting


def is_kept(trial: Trial, finding: Finding, view: View) -> bool | None:
    """Return whether no hazard goes over its limit to the warned end, if the advice is taken.

    The work is done when the finding asks for it, and undone when that was advised.

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
    (run,) = advance([view.run.within(last)], [min(case.hour_of(finding.act_by), last)])
    done_at = run.hour
    run = branch(run, trial.remedy.applied(view.setup), view.grounds)
    if trial.off_at is not None and case.hour_of(trial.off_at) < last:
        (run,) = advance([run], [max(run.hour, case.hour_of(trial.off_at))])
        run = branch(run, trial.remedy.lifted.applied(view.setup), view.grounds)
    (run,) = advance([run], [last])
    # As with warnings, a window counts while half of it lies within the hours told of.
    ahead = max(0, end - WINDOW_AHEAD - done_at)
    judged = pace(run, done_at, ahead, view.limit.value)
    others = (stain(run, done_at), wetting(run, done_at, end - done_at))
    if judged.onset is not None or any(f.over for f in others):
        return False
    return True if judged.complete else None
