"""The form of papers: it reads what was chosen; the papers' rules judge it."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from services.core.errors import FieldProblem, Invalid
from services.pages.forms import Plain
from services.papers import rules
from services.papers.models import What

T = TypeVar("T")

Choices = Sequence[tuple[str, Any]]


def what_choices() -> list[tuple[str, str]]:
    """The papers as people choose them."""
    return [
        (What.BEND_CARDS.value, _("Bend cards")),
        (What.CUT_LIST.value, _("Cut list")),
        (What.KIT_LIST.value, _("Kit list")),
        (What.LABELS.value, _("Labels")),
        (What.CREW_SHEET.value, _("A day's sheet")),
        (What.TAKE_OFF.value, _("Take-off")),
    ]


def sheet_choices(first: str) -> list[tuple[str, list[tuple[str, str]]]]:
    """The sheets of labels by paper, the company's own first."""
    papers = sorted(rules.PAPERS, key=lambda paper: paper != first)
    return [
        (paper, [(each.id, each.said) for each in rules.SHEETS.values() if each.paper == paper])
        for paper in papers
    ]


class PaperForm(Plain):
    """What to print, of what, on what. subject: "run:ID" and the like."""

    what = forms.ChoiceField(label=gettext_lazy("Paper"))
    subject = forms.ChoiceField(label=gettext_lazy("Of"))
    paper = forms.ChoiceField(label=gettext_lazy("Size"), choices=[(each, each) for each in rules.PAPERS])
    only_open = forms.BooleanField(label=gettext_lazy("Leave out what is bent already"), required=False)
    labels = forms.ChoiceField(label=gettext_lazy("Sheet"))
    start = forms.IntegerField(
        label=gettext_lazy("Begin at label"),
        required=False,
        min_value=1,
        max_value=999,
        help_text=gettext_lazy("Counted along the rows: 1 for a fresh sheet."),
    )
    day = forms.DateField(
        label=gettext_lazy("Day"),
        required=False,
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        help_text=gettext_lazy("Tomorrow, unless you say another."),
    )

    def __init__(self, *args: Any, subjects: Choices, sheets: Choices, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["what"] = forms.ChoiceField(label=_("Paper"), choices=what_choices())
        self.fields["subject"] = forms.ChoiceField(
            label=_("Of"), choices=subjects, error_messages={"invalid_choice": _("Choose one that is there.")}
        )
        self.fields["labels"] = forms.ChoiceField(label=_("Sheet"), choices=sheets)

    def ask(self, command: Callable[..., T], **more: Any) -> T | None:
        """As every form; what is said of `of` stands at the one field that says what the paper is of."""

        def told_here(**given: Any) -> T:
            try:
                return command(**given)
            except Invalid as error:
                raise Invalid(
                    [
                        FieldProblem("subject" if each.where == "of" else each.where, each.text, each.code)
                        for each in error.problems
                    ]
                ) from None

        return super().ask(told_here, **more)

    def arguments(self) -> Mapping[str, Any]:
        """What is asked for."""
        given = dict(self.cleaned_data)
        of, _colon, of_id = given.pop("subject").partition(":")
        return {**given, "of": of, "of_id": uuid.UUID(of_id)}
