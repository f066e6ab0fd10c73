"""The API's description: as a page, and for a program."""

from typing import ClassVar

from django.http import HttpResponse
from django.shortcuts import render
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.rights import Right
from services.core import openapi
from services.core.openapi import anything, operation
from services.pages.gate import PageRequest, page
from services.pages.reference import reference as laid_out


@page(Right.SEE_WORK)
def reference(request: PageRequest) -> HttpResponse:
    """Every address of the API. No query of its own."""
    return render(request, "pages/api_reference.html", {"reference": laid_out()})


class Description(APIView):
    """This description."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Describe the API", gives=anything("OpenAPI 3.1.", {"openapi": "3.1.1"}))
    def get(self, request: Request) -> Response:
        """By OpenAPI 3.1, for programs that read it."""
        return Response(openapi.document())
