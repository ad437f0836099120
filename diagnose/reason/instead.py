"""Why one step comes next and not another.

Cast: `instead(diagnosis, other)` gives an `Instead`.
"""

from __future__ import annotations

from typing import NamedTuple

from diagnose.reason.diagnosis import TOO_OFTEN, Diagnosis


class Instead(NamedTuple):
    """What puts the next step before another one.

    `reason`: demanded (`by` a deduction or a cause), needed (before the fix `by`), over (nothing is asked any more),
    again (it came back too often), closed (the other one is not open), dearer (the other one is expected to take
    longer), little (it saves too little to be asked) or nothing (it saves nothing). `now` and `other` are the minutes
    expected until the complaint is gone with either one first, where both were weighed.
    """

    reason: str
    by: str = ""
    now: float | None = None
    other: float | None = None


def instead(diagnosis: Diagnosis, other: str) -> Instead:
    """Why the next step comes before the check, fix or hand-off `other`."""
    step, outlook = diagnosis.next, diagnosis.outlook
    if step.demanded_by:
        return Instead("demanded", step.demanded_by)
    if outlook is None:
        return Instead("over")
    if diagnosis.situation.comebacks >= TOO_OFTEN:
        return Instead("again")
    if step.prepares and other == step.prepares:
        return Instead("needed", step.prepares)
    weighed = next((one for one in diagnosis.options if other in (one.id, *one.with_fixes)), None)
    if weighed:
        reason = "little" if weighed.expected < step.expected else "dearer"
        return Instead(reason, "", step.expected, weighed.expected)
    is_open = any(check.id == other for check in outlook.open_checks())
    return Instead("nothing" if is_open else "closed")
