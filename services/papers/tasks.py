"""Work on papers that follows a commit."""

import uuid

from services.core.outbox import task
from services.papers import commands


@task("papers.draw_cards")
def draw_cards(plan_id: str) -> None:
    """Has the cards of a released plan drawn before anybody asks; what it supersedes is thrown away."""
    commands.throw_away()
    commands.keep_cards(plan_id=uuid.UUID(plan_id))


@task("papers.draw_part")
def draw_part(pack_id: str, number: int) -> None:
    """Draws a part of a pack."""
    commands.draw_part(pack_id=uuid.UUID(pack_id), number=number)


@task("papers.throw_away")
def throw_away() -> None:
    """Throws away the company's old packs."""
    commands.throw_away()
