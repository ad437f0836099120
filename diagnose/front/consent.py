"""The pause before a fix that would cost more than the rider agreed to: one line to read over the phone.

Cast: `ask_consent`.
"""

from __future__ import annotations

from typing import Any

from diagnose.casework import events
from diagnose.casework.desk import DECLINED
from diagnose.front import wording
from diagnose.front.prompt import Command, Leave, Screen
from diagnose.front.screens import to_read_out
from diagnose.front.telling import Telling

View = dict[str, Any]


def ask_consent(telling: Telling, view: View, crossing: View, command: Command) -> None:
    """Ask what the rider said. Raises Leave where nobody answered: the job waits for that."""
    told = {**crossing, "fixes": "; ".join(crossing["fixes"])}

    def draw() -> None:
        telling.paper.rule()
        telling.paper.say(wording.CONSENT, style="bold")
        telling.paper.say(to_read_out(crossing))
        telling.paper.say()

    answers = (wording.CONSENT_YES.format(**told), wording.CONSENT_NO, wording.CONSENT_NOBODY)
    chosen = telling.ask(Screen(draw, answers, hints="bwlpq"), command)
    if chosen == 0:
        telling.tell(events.agreed(crossing["together"]))
    elif chosen == 1:
        step = view["next"]
        telling.tell(events.fix_not_possible(step["id"], DECLINED, step["with"]))
    else:
        telling.desk.wait(telling.case_id, text=wording.CONSENT_WAITS.format(**told))
        raise Leave
