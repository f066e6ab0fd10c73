"""Work on papers that follows a commit."""

import uuid

from services.core.outbox import task
from services.papers import commands


@task("papers.draw_cards")
def draw_cards(plan_id: str) -> None:
    """Draws the cards of a released plan before anybody asks."""
    commands.keep_cards(plan_id=uuid.UUID(plan_id))
