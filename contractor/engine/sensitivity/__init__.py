"""Judge one sensitivity reading, or a whole print-out of them."""

from contractor.engine.sensitivity.judging import RULES, Side, State, Verdict, judge
from contractor.engine.sensitivity.many import Verdicts, judge_many

__all__ = ["RULES", "Side", "State", "Verdict", "Verdicts", "judge", "judge_many"]
