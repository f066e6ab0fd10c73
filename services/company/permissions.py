"""The API's gate: a view names its right, or nobody passes."""

from typing import Any

from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from services.company.rights import Right, may


class NeedsRight(BasePermission):
    """Lets a signed-in member of a company through whose role has the right that the view names for the
    method.

    A view says `rights = {"GET": Right.SEE_WORK, ...}`; a method without one is refused to all.
    """

    message = "This is not among the rights of your role."

    def has_permission(self, request: Request, view: Any) -> bool:
        """Whether the request may reach the view."""
        actor = request._request.actor  # type: ignore[attr-defined]
        right: Right | None = getattr(view, "rights", {}).get(request.method)
        if actor is None or right is None:
            return False
        return may(actor.role, right, foreman_sees_money=request._request.company.foreman_sees_money)  # type: ignore[attr-defined]
