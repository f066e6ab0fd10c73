"""Work of the core that follows a commit."""

from services.core import idempotency
from services.core.outbox import task


@task("core.forget_answers")
def forget_answers() -> None:
    """Removes the company's answers that were kept long enough."""
    idempotency.forget()
