"""bendcore: from a run of conduit as surveyed to exact marks.

Numbers in; numbers, findings and drawings out. Lengths are millimetres, angles degrees, masses kilograms.
It knows nothing of people, databases or the web. `plan` is the one door.
"""

from bendcore.errors import BendError, SpecProblem
from bendcore.planned import Bank, Plan
from bendcore.planner import plan
from bendcore.spec import RunSpec, read, read_json
from bendcore.units import Units
from bendcore.words import Dialect, Finding, Level

__all__ = [
    "Bank",
    "BendError",
    "Dialect",
    "Finding",
    "Level",
    "Plan",
    "RunSpec",
    "SpecProblem",
    "Units",
    "plan",
    "read",
    "read_json",
]
