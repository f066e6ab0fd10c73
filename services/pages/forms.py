"""Forms of the office: they read what was typed; commands judge it. What was typed stays when something is
wrong."""

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from bendcore import catalogue, tape
from bendcore.units import Mm, Units
from services.bench.models import Line
from services.company.models import Company
from services.core.errors import DomainError, Invalid
from services.projects import rules as project_rules

T = TypeVar("T")


class Lengths(forms.CharField):
    """A length as people type it, in the company's units; cleans to millimetres, or to None."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "num"})

    def __init__(self, *, units: Units, **options: Any) -> None:
        super().__init__(**options)
        self.units = units

    def clean(self, value: Any) -> float | None:
        """Millimetres. Raises ValidationError with what is allowed."""
        text = super().clean(value)
        if not text:
            return None
        try:
            return float(project_rules.parse_length(text, self.units.value, signed=True))
        except (DomainError, ValueError) as error:
            raise forms.ValidationError("; ".join(_texts(error))) from None


def _texts(error: Exception) -> list[str]:
    """What an error says at the very field that it is of."""
    if isinstance(error, Invalid) and error.problems:
        return [each.text for each in error.problems]
    return [getattr(error, "text", None) or str(error)]


def told(error: Exception) -> str:
    """What an error says to a person where no field stands beside it: what is wrong is called by its human
    name."""
    if not (isinstance(error, Invalid) and error.problems):
        return _texts(error)[0]
    return "; ".join(
        f"{subject(each.where)} {each.text}" if each.text[:1].islower() else each.text
        for each in error.problems
    )


def subject(where: str) -> str:
    """What a person calls the place of a problem: "figures.saved_mm" is what is saved."""
    names = {
        "kind": _("The tick"),
        "cause": _("The cause"),
        "saved_mm": _("What is saved"),
        "length_mm": _("The length"),
        "angle_deg": _("The angle"),
        "verdict": _("What the check found"),
        "offcut": _("The offcut"),
        "note": _("The note"),
        "crew_id": _("The crew"),
        "figures": _("The figures"),
        "company": _("The company"),
    }
    return names.get(where.rpartition(".")[2], _("What was typed"))


class Plain(forms.Form):
    """A form whose fields bear the names of its command's arguments."""

    required_css_class = "needed"
    use_required_attribute = False

    more: tuple[str, ...] = ()
    """Fields that stand apart, under a heading of their own."""

    def ask(self, command: Callable[..., T], **more: Any) -> T | None:
        """Calls the command with what was typed; None when the form or the command refuses, told at the
        fields."""
        if not self.is_valid():
            return None
        try:
            return command(**more, **self.arguments())
        except Invalid as error:
            for each in error.problems:
                self.add_error(self.place(each.where), each.text)
            return None

    def place(self, where: str) -> str | None:
        """The field that a problem of the command is told at; None: the form as a whole."""
        return where if where in self.fields else None

    def focus(self) -> None:
        """Puts the hand at the first field that has a problem, else at the first."""
        bad = [name for name in self.fields if self.is_bound and name in self.errors]
        self.fields[bad[0] if bad else next(iter(self.fields))].widget.attrs["autofocus"] = True

    def arguments(self) -> Mapping[str, Any]:
        """The command's arguments."""
        return self.cleaned_data


class ProjectForm(Plain):
    """A new project."""

    code = forms.CharField(label=gettext_lazy("Job code"), max_length=30)
    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Empty: known by its code."),
    )
    client = forms.CharField(label=gettext_lazy("Client"), max_length=120, required=False)
    site = forms.CharField(label=gettext_lazy("Site"), max_length=200, required=False)

    def arguments(self) -> Mapping[str, Any]:
        """A job without a name bears its code."""
        given = dict(self.cleaned_data)
        return {**given, "name": given["name"] or given["code"]}


class RoomForm(Plain):
    """A new room."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=120,
        help_text=gettext_lazy("As people on site call it: plant room 2, churn hall."),
    )


class BenderForm(Plain):
    """A bender: what people call it, its body, and what it needs to hold and to swing."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=80,
        help_text=gettext_lazy("As people call it: bench bender 1, floor bender."),
    )

    more: tuple[str, ...] = ("shape", "hold_min_mm", "swing_min_mm")

    def __init__(
        self, *args: Any, company: Company, hold: str, swing: str, with_body: bool, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        if not with_body:
            self.more = ()
            return
        units = Units(company.units)
        names = {"bench machine": _("bench machine"), "floor machine": _("floor machine")}
        self.fields["shape"] = forms.ChoiceField(
            label=_("Body"),
            required=False,
            choices=[
                ("", _("not known: no swing is checked")),
                *((each, names.get(each, each)) for each in catalogue.bender_shapes()),
            ],
            help_text=_(
                "A general shape, measured on no machine: the order of bending and its drawings follow from "
                "it. Try it on the machine in front of you."
            ),
        )
        for name, side in (("hold_min_mm", hold), ("swing_min_mm", swing)):
            self.fields[name] = Lengths(
                label=_("Least straight at the %(side)s, %(unit)s") % {"side": side, "unit": units.value},
                units=units,
                required=False,
                help_text=_(
                    "From the bend to the end of the tube or the next bend. Empty: as the body says."
                ),
            )


class FormerForm(Plain):
    """A former on a bender: the radius and the set line decide every mark."""

    conduit = forms.ChoiceField(label=gettext_lazy("Conduit"))
    centreline_radius_mm = forms.CharField()
    line = forms.ChoiceField()
    take_up_mm = forms.CharField(required=False)
    reach_mm = forms.CharField(required=False)
    k = forms.FloatField(
        label=gettext_lazy("Springback k"),
        required=False,
        help_text=gettext_lazy(
            "From trial bends: the bend opens by k of the pull and by c. Empty: no pull is told."
        ),
    )
    c_deg = forms.FloatField(label=gettext_lazy("Springback c, degrees"), required=False)
    sd_deg = forms.FloatField(label=gettext_lazy("Spread of finished angles, degrees"), required=False)
    scale_deg = forms.FloatField(
        label=gettext_lazy("Division of the bender's scale, degrees"), required=False
    )

    more = ("k", "c_deg", "sd_deg", "scale_deg")

    def __init__(
        self,
        *args: Any,
        company: Company,
        line_words: Callable[[str], str],
        take_up: str,
        radius: str,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        units = Units(company.units)
        rows = sorted(catalogue.conduits(), key=lambda row: row.region != company.words)
        self.fields["conduit"] = forms.ChoiceField(
            label=_("Conduit"),
            choices=[(row.id, row.title) for row in rows],
            initial="steel-20-heavy" if company.words == "uk" else "emt-1/2",
        )
        self.fields["centreline_radius_mm"] = Lengths(
            label=_("%(radius)s, %(unit)s") % {"radius": radius, "unit": units.value},
            units=units,
            help_text=_("Of the finished bend. Measure a trial bend: centre to centre."),
        )
        self.fields["line"] = forms.ChoiceField(
            label=_("Set line"),
            choices=[(each.value, line_words(each.value)) for each in Line],
            help_text=_("What the mark is brought to in the bender."),
        )
        self.fields["take_up_mm"] = Lengths(
            label=_("%(take_up)s, %(unit)s")
            % {"take_up": take_up[:1].upper() + take_up[1:], "unit": units.value},
            units=units,
            required=False,
            help_text=_("With the arrow only."),
        )
        self.fields["reach_mm"] = Lengths(
            label=_("Own line before the start of bend, %(unit)s") % {"unit": units.value},
            units=units,
            required=False,
            help_text=_("With a line of your own only."),
        )
        if "conduit" in self.initial:
            del self.fields["conduit"]


class ReceiveForm(Plain):
    """Full lengths that came into the store."""

    conduit = forms.ChoiceField(label=gettext_lazy("Conduit"))
    lengths = forms.IntegerField(label=gettext_lazy("Full lengths"), min_value=1, max_value=100_000)

    def __init__(self, *args: Any, conduits: list[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["conduit"] = forms.ChoiceField(label=_("Conduit"), choices=conduits)


class PriceForm(Plain):
    """What a full length costs from a day on."""

    conduit = forms.ChoiceField(label=gettext_lazy("Conduit"))
    price = forms.DecimalField(
        label=gettext_lazy("Price of a full length"), min_value=0, max_digits=10, decimal_places=2
    )
    from_day = forms.DateField(
        label=gettext_lazy("From"), widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )

    def __init__(self, *args: Any, conduits: list[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["conduit"] = forms.ChoiceField(label=_("Conduit"), choices=conduits)

    def arguments(self) -> Mapping[str, Any]:
        """The price with the length that it is for: the catalogue's."""
        given = dict(self.cleaned_data)
        given["full_length_mm"] = catalogue.conduit(given["conduit"]).stock_length
        return given


def conduit_choices(company: Company, first: list[str]) -> list[tuple[str, str]]:
    """Conduits to choose from: those in use first, then the company's region, then the rest."""
    rows = sorted(catalogue.conduits(), key=lambda row: (row.id not in first, row.region != company.words))
    return [(row.id, row.title) for row in rows]


def typed_length(millimetres: float | None, units: Units) -> str:
    """A kept length as it stands in a field: as a tape reads where that loses nothing, else with its
    decimals."""
    if millimetres is None:
        return ""
    if abs(tape.round_reading(Mm(millimetres), units) - millimetres) < 1e-6:
        return tape.read(Mm(millimetres), units)
    figure = millimetres if units is Units.MM else millimetres / 25.4
    return f"{figure:.4f}".rstrip("0").rstrip(".")
