"""Search, from the field in every page's head."""

from django.http import HttpResponse
from django.shortcuts import render

from services.company.rights import Right
from services.pages import search
from services.pages.gate import PageRequest, page


@page(Right.SEE_WORK)
def find(request: PageRequest) -> HttpResponse:
    """What the address's `q` finds."""
    return render(request, "pages/search.html", {"found": search.find(request.GET.get("q", ""))})
