"""Benders with their formers, and the store."""

import uuid
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore.catalogue import conduit as conduit_row
from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import commands as bench_commands
from services.bench import queries as bench_queries
from services.company.rights import Right, may, require
from services.core import words
from services.core.errors import StaleVersion
from services.pages.forms import (
    BenderForm,
    FormerForm,
    Plain,
    PriceForm,
    ReceiveForm,
    conduit_choices,
    typed_length,
)
from services.pages.gate import PageRequest, page, seen_by
from services.stock import commands as stock_commands
from services.stock import queries as stock_queries


@page(Right.SEE_WORK, "GET", "POST")
def benders(request: PageRequest) -> HttpResponse:
    """The benders with their formers; adds a bender."""
    form = _bender_form(request, with_body=False)
    if request.method == "POST":
        require(request.actor, Right.BENDERS)
        bender = form.ask(bench_commands.add_bender, actor=request.actor)
        if bender is not None:
            return redirect("former-new", bender_id=bender.pk)
    context = {"benders": bench_queries.benders(), "form": form}
    return render(request, "pages/benders.html", context, status=422 if form.is_bound else 200)


@page(Right.BENDERS, "GET", "POST")
def bender_change(request: PageRequest, bender_id: uuid.UUID) -> HttpResponse:
    """Changes a bender's name, body and least straights."""
    bender = bench_queries.bender(bender_id)
    units = Units(request.company.units)
    initial = {
        "name": bender.name,
        "shape": bender.shape,
        "hold_min_mm": typed_length(bender.hold_min_mm, units),
        "swing_min_mm": typed_length(bender.swing_min_mm, units),
    }
    form = _bender_form(request, with_body=True, initial=initial)
    if request.method == "POST":
        try:
            changed = form.ask(
                bench_commands.change_bender, actor=request.actor, bender_id=bender_id, seen=seen_by(request)
            )
        except StaleVersion as error:
            form.add_error(None, error.text)
            changed = None
        if changed is not None:
            return redirect("benders")
    return _shown(
        request, form, title=bender.name, under=_("Released plans keep the order of bending they have."),
        go=_("Keep"), more_title=_("Body and least straights"),
        seen=request.POST.get("seen") or bender.version,
    )  # fmt: skip


def _bender_form(
    request: PageRequest, *, with_body: bool, initial: dict[str, Any] | None = None
) -> BenderForm:
    dialect = Dialect(request.company.words)
    return BenderForm(
        request.POST or None,
        company=request.company,
        hold=words.word("hold_side", dialect),
        swing=words.word("swing_side", dialect),
        with_body=with_body,
        initial=initial,
    )


@page(Right.BENDERS, "GET", "POST")
def former_new(request: PageRequest, bender_id: uuid.UUID) -> HttpResponse:
    """Adds a former to a bender."""
    bender = bench_queries.bender(bender_id)
    form = _former_form(request)
    if request.method == "POST":
        former = form.ask(bench_commands.add_former, actor=request.actor, bender_id=bender_id)
        if former is not None:
            return redirect("benders")
    word = words.word("former", Dialect(request.company.words))
    return _shown(
        request, form, title=_("Add a %(former)s") % {"former": word}, under=bender.name, go=_("Add it")
    )


@page(Right.BENDERS, "GET", "POST")
def former_change(request: PageRequest, former_id: uuid.UUID) -> HttpResponse:
    """Changes a former's figures."""
    former = bench_queries.former(former_id)
    units = Units(request.company.units)
    initial: dict[str, Any] = {"conduit": former.conduit, "line": former.line}
    initial |= {
        name: typed_length(getattr(former, name), units)
        for name in ("centreline_radius_mm", "take_up_mm", "reach_mm")
    }
    initial |= {name: getattr(former, name) for name in ("k", "c_deg", "sd_deg", "scale_deg")}
    form = _former_form(request, initial=initial)
    if request.method == "POST":
        try:
            changed = form.ask(
                bench_commands.change_former, actor=request.actor, former_id=former_id, seen=seen_by(request)
            )
        except StaleVersion as error:
            form.add_error(None, error.text)
            changed = None
        if changed is not None:
            return redirect("benders")
    title = f"{former.bender.name} · {conduit_row(former.conduit).title}"
    return _shown(
        request, form, title=title, under=_("Released plans keep the figures that they were made with."),
        go=_("Keep"), seen=request.POST.get("seen") or former.version,
    )  # fmt: skip


def _former_form(request: PageRequest, initial: dict[str, Any] | None = None) -> FormerForm:
    dialect = Dialect(request.company.words)
    return FormerForm(
        request.POST or None,
        company=request.company,
        line_words=lambda line: words.word(f"line_{line}", dialect),
        take_up=words.word("take_up", dialect),
        radius=_("Centreline radius") if request.company.words == "uk" else _("Centerline radius"),
        initial=initial,
    )


def _shown(request: PageRequest, form: Plain, **more: Any) -> HttpResponse:
    form.focus()
    context = {"form": form, "more_title": _("Springback and scale"), **more}
    return render(request, "pages/form.html", context, status=422 if form.is_bound and form.errors else 200)


@page(Right.SEE_WORK, "GET", "POST")
def stock(request: PageRequest) -> HttpResponse:
    """What the store holds, its offcuts, and prices for those who may see money."""
    sees_money = may(
        request.actor.role, Right.SEE_MONEY, foreman_sees_money=request.company.foreman_sees_money
    )
    on_hand = stock_queries.on_hand()
    formers = bench_queries.formers()
    used = [each.conduit for each in on_hand] + [each.conduit for each in formers]
    choices = conduit_choices(request.company, used)
    what = request.POST.get("what")
    today = timezone.localdate()
    receive = ReceiveForm(request.POST if what == "receive" else None, conduits=choices)
    price = PriceForm(
        request.POST if what == "price" else None, conduits=choices, initial={"from_day": today}
    )
    if what == "receive":
        if receive.ask(stock_commands.receive, actor=request.actor) is not None:
            return redirect("stock")
    elif what == "price" and price.ask(stock_commands.set_price, actor=request.actor) is not None:
        return redirect("stock")
    context = {
        "on_hand": on_hand,
        "offcuts": stock_queries.offcuts(),
        "receive": receive,
        "price": price,
        "prices": stock_queries.prices() if sees_money else [],
        "sees_money": sees_money,
    }
    bad = receive.errors if what == "receive" else price.errors if what == "price" else False
    return render(request, "pages/stock.html", context, status=422 if bad else 200)
