"""Rule packs: a run as planned, judged by the rules of a country.

A pack is a module of small rules, each with its published source and the edition it is from. The rules help a
competent person: local codes and licensed practice decide.
"""

from typing import assert_never

from bendcore.rules import uk, us
from bendcore.rules.facts import BentAt, JointAt, RunFacts, StraightAt, Termination
from bendcore.rules.supports import Support
from bendcore.spec import RulePack
from bendcore.words import Finding

__all__ = ["BentAt", "JointAt", "RunFacts", "StraightAt", "Support", "Termination", "judge"]


def judge(pack: RulePack, facts: RunFacts) -> tuple[list[Finding], list[Support]]:
    """What a pack finds in a run, and where its clips go, in order along the run.

    Cables told otherwise than the pack reckons (a cross-section under `us`, a gauge under `uk`) are not
    judged; the spec refuses them.
    Sources: those that each finding names.
    """
    match pack:
        case RulePack.UK:
            return uk.judge(facts)
        case RulePack.US:
            return us.judge(facts)
        case _:
            assert_never(pack)
