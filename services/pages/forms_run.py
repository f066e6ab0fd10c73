"""Forms of runs: what a run says of itself, the bank laid beside it, the label of what goes on after a
box."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _

from bendcore.spec import EndKind, RulePack, Strand
from bendcore.units import Units
from services.company.models import Company
from services.pages.forms import Lengths, Plain, typed_length
from services.projects.models import BankCorners, FitFrom, Heading, Run
from services.projects.rules import MOST_CABLES, MOST_IN_BANK
from services.projects.walk import DIRECTIONS

SPARE_CABLES: Final = 2
"""Empty rows of cables beside those that there are."""

_CABLE: Final = re.compile(r"cables\[([0-9]+)\](?:\.([a-z0-9_]+))?")
_CABLE_FIELDS: Final[Mapping[str, tuple[str, ...]]] = {
    "uk": ("csa_mm2", "type", "count"),
    "us": ("size", "insulation", "count"),
}
"""Of one kind of cable, by rule pack: its keys in the engine's contract."""


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Fields under a heading of their own. per_row: how many stand side by side, 0 for as they fit."""

    title: str
    names: tuple[str, ...]
    hint: str = ""
    per_row: int = 0


def headings() -> dict[str, str]:
    """The ways a run may set out, as they are said."""
    return {
        "up": _("up"),
        "down": _("down"),
        "left": _("left"),
        "right": _("right"),
        "in": _("in"),
        "out": _("out"),
    }


class RunForm(Plain):
    """A run: where it goes, what it is bent on; once it is there, also how it lies, how it ends, and what is
    drawn in."""

    from_place = forms.CharField(max_length=80, required=False)
    to_place = forms.CharField(max_length=80, required=False)

    def __init__(
        self,
        *args: Any,
        company: Company,
        formers: list[tuple[str, str]],
        end_words: Callable[[str], str],
        former_label: str,
        proposed: str = "",
        run: Run | None = None,
        facings: Sequence[str] = (),
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.units = Units(company.units)
        self.proposed = proposed
        self.facings = facings
        self.groups: list[FieldGroup] = []
        self.cable_keys: tuple[str, ...] = ()
        painted = _("Painted on each piece: 07 gives 07/1, 07/2.")
        self.fields["label"] = forms.CharField(
            label=_("Label"),
            max_length=20,
            required=not proposed,
            help_text=painted
            if not proposed
            else _("%(painted)s Empty: %(label)s, the job’s next number.")
            % {"painted": painted, "label": proposed},
            widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": proposed}),
        )
        self.fields["from_place"].label, self.fields["to_place"].label = _("From"), _("To")
        self.fields["former_id"] = forms.TypedChoiceField(label=former_label, choices=formers)
        self.fields["heading"] = forms.ChoiceField(
            label=_("Sets off"),
            choices=[(each.value, headings()[each.value]) for each in Heading],
            initial="up",
            help_text=_("Facing the wall that the room is drawn from: in is toward it, out is away from it."),
        )
        self.order_fields(["label", "from_place", "to_place", "former_id", "heading"])
        if run is not None:
            self._directions()
            self._ends(end_words)
            self._cables(company, run)

    def _directions(self) -> None:
        self.fields["facing"] = forms.CharField(
            label=_("Facing"),
            max_length=60,
            required=False,
            help_text=_("The wall that one faces, as people call it: the north wall, the wall with the door.")
            + (
                " " + _("Other runs of this room: %(facings)s.") % {"facings": ", ".join(self.facings)}
                if self.facings
                else ""
            ),
            widget=forms.TextInput(attrs={"list": "facings", "autocomplete": "off"}),
        )
        ways = {
            FitFrom.START: _("from the start"),
            FitFrom.FINISH: _("from the finish"),
            FitFrom.BOTH: _("from both ends inward"),
        }
        self.fields["fit_from"] = forms.ChoiceField(
            label=_("Fixed in place"), choices=[(each.value, ways[each]) for each in FitFrom],
            initial="start",
            help_text=_("It decides where a joint that cannot be turned gets its long thread."),
        )  # fmt: skip
        self.groups.append(FieldGroup(_("Directions and fixing"), ("facing", "fit_from")))

    def _ends(self, end_words: Callable[[str], str]) -> None:
        ends = [(kind.value, end_words(kind.value)) for kind in EndKind]
        for end, label in (("start", _("Start")), ("finish", _("Finish"))):
            self.fields[f"{end}_kind"] = forms.ChoiceField(label=label, choices=ends, initial="open")
            self.fields[f"{end}_allowance_mm"] = Lengths(
                label=_("%(end)s: past the face, %(unit)s") % {"end": label, "unit": self.units.value},
                units=self.units,
                required=False,
                help_text=_(
                    "How far the conduit goes past the face measured to. Empty: not known, counts as 0."
                ),
            )
        self.fields["standoff_mm"] = Lengths(
            label=_("Off the wall, %(unit)s") % {"unit": self.units.value},
            units=self.units,
            required=False,
            help_text=_("From the wall to the conduit: needed only where legs are measured to the wall."),
        )
        names = ("start_kind", "start_allowance_mm", "finish_kind", "finish_allowance_mm", "standoff_mm")
        self.groups.append(FieldGroup(_("Ends and wall"), names))

    def _cables(self, company: Company, run: Run) -> None:
        self.cable_keys = _CABLE_FIELDS.get(company.rules, ())
        if not self.cable_keys:
            hint = _(
                "Whether cables fit is judged by a rule pack, and the company has chosen none: an "
                "administrator chooses it in the settings."
            )
            self.groups.append(FieldGroup(_("Cables to be drawn in"), (), hint))
            return
        names: list[str] = []
        for number in range(1, self._cable_count(len(run.cables)) + 1):
            for key in self.cable_keys:
                name = f"cable_{number}_{key}"
                self.fields[name] = self._cable_field(key, number)
                names.append(name)
        hint = (
            _("Single-core cables, by cross-section. Judged by tables for insulation of PVC.")
            if company.rules == RulePack.UK
            else _("Conductors by gauge and insulation: 12 AWG THHN, 250 kcmil XHHW.")
        )
        self.groups.append(
            FieldGroup(_("Cables to be drawn in"), tuple(names), hint, per_row=len(self.cable_keys))
        )

    def _cable_count(self, there: int) -> int:
        sent = 0
        if self.is_bound:
            while sent < MOST_CABLES and f"cable_{sent + 1}_count" in self.data:
                sent += 1
        return sent or min(there + SPARE_CABLES, MOST_CABLES)

    @staticmethod
    def _cable_field(key: str, number: int) -> forms.Field:
        labels = {
            "csa_mm2": _("Cable %(n)d: mm²"),
            "type": _("Cable %(n)d: core"),
            "size": _("Cable %(n)d: size"),
            "insulation": _("Cable %(n)d: insulation"),
            "count": _("Cable %(n)d: how many"),
        }
        label = labels[key] % {"n": number}
        if key == "csa_mm2":
            attrs = {"inputmode": "decimal", "class": "num", "list": "cable-csa", "autocomplete": "off"}
            return forms.FloatField(label=label, required=False, widget=forms.TextInput(attrs=attrs))
        if key == "count":
            attrs = {"inputmode": "numeric", "class": "num", "autocomplete": "off"}
            return forms.IntegerField(label=label, required=False, widget=forms.TextInput(attrs=attrs))
        if key == "type":
            names = {Strand.STRANDED: _("stranded"), Strand.SOLID: _("solid")}
            return forms.ChoiceField(
                label=label, choices=[(kind.value, name) for kind, name in names.items()], initial="stranded"
            )
        attrs = {"autocomplete": "off", "list": f"cable-{key}"}
        return forms.CharField(
            label=label, required=False, max_length=20, widget=forms.TextInput(attrs=attrs)
        )

    @property
    def plain_names(self) -> list[str]:
        """The fields that stand under no heading."""
        grouped = {name for group in self.groups for name in group.names}
        return [name for name in self.fields if name not in grouped]

    def arguments(self) -> Mapping[str, Any]:
        """The fields of a run; what was left empty keeps its default."""
        given = {name: value for name, value in self.cleaned_data.items() if not name.startswith("cable_")}
        given["label"] = given["label"] or self.proposed
        if "standoff_mm" in given:
            given["standoff_mm"] = given["standoff_mm"] or 0.0
        if self.cable_keys:
            given["cables"] = [cable for _number, cable in self._typed_cables()]
        return given

    def _typed_cables(self) -> list[tuple[int, dict[str, Any]]]:
        """The cables of which something is typed, each with the number of its row."""
        found = []
        for number in range(1, MOST_CABLES + 1):
            cable = {
                key: self.cleaned_data[f"cable_{number}_{key}"]
                for key in self.cable_keys
                if self.cleaned_data.get(f"cable_{number}_{key}") not in (None, "")
            }
            if cable.keys() - {"type"}:
                found.append((number, cable))
        return found

    def place(self, where: str) -> str | None:
        """The field of a problem's place; a cable's is at its row."""
        match = _CABLE.fullmatch(where)
        if match is None:
            return super().place(where)
        numbers = [number for number, _cable in self._typed_cables()]
        if int(match[1]) >= len(numbers):
            return None
        key = match[2] if match[2] in self.cable_keys else self.cable_keys[0]
        return f"cable_{numbers[int(match[1])]}_{key}"


def typed_run(run: Run, units: Units, rules: str) -> dict[str, str]:
    """A run as it stands in the fields of `RunForm`."""
    told = {
        name: str(getattr(run, name))
        for name in (
            "label", "from_place", "to_place", "former_id", "heading", "facing", "fit_from", "start_kind",
            "finish_kind",
        )
    }  # fmt: skip
    for name in ("start_allowance_mm", "finish_allowance_mm", "standoff_mm"):
        told[name] = typed_length(getattr(run, name), units)
    keys = _CABLE_FIELDS.get(rules, ())
    for number, cable in enumerate(run.cables, start=1):
        for key in keys:
            value = cable.get(key, "")
            told[f"cable_{number}_{key}"] = f"{value:g}" if isinstance(value, float) else str(value)
    return told


class BankForm(Plain):
    """Runs laid beside one."""

    def __init__(self, *args: Any, units: Units, labels: Sequence[str], run: Run, **options: Any) -> None:
        super().__init__(*args, **options)
        self.label_names = [f"label_{number}" for number in range(1, len(labels) + 1)]
        for name, label in zip(self.label_names, labels, strict=True):
            number = name.removeprefix("label_")
            self.fields[name] = forms.CharField(
                label=_("Label of the one beside it")
                if len(labels) == 1
                else _("Label %(n)s") % {"n": number},
                max_length=20,
                initial=label,
                widget=forms.TextInput(attrs={"autocomplete": "off"}),
            )
        self.fields["spacing_mm"] = Lengths(
            label=_("Spacing, %(unit)s") % {"unit": units.value},
            units=units,
            initial=typed_length(run.bank_spacing_mm, units),
            help_text=_("Centre to centre, for the whole bank."),
        )
        ways = [way for way in DIRECTIONS if not _along(way, run.heading)]
        self.fields["toward"] = forms.ChoiceField(
            label=_("Toward"),
            choices=[(way, headings()[way]) for way in ways],
            initial=run.bank_toward or ("right" if "right" in ways else "up"),
            help_text=_("Where the others lie, seen from this run’s first leg."),
        )
        names = {
            BankCorners.EQUAL: _("equal: all on one former, corners step"),
            BankCorners.CONCENTRIC: _("concentric: about one centre, each on a radius of its own"),
        }
        self.fields["corners"] = forms.ChoiceField(
            label=_("Corners"), choices=[(each.value, names[each]) for each in BankCorners],
            initial=run.bank_corners,
        )  # fmt: skip

    def arguments(self) -> Mapping[str, Any]:
        """Labels, the nearest first, and how they lie."""
        given = dict(self.cleaned_data)
        labels = [given.pop(name) for name in self.label_names]
        return {"labels": labels, **given}

    def place(self, where: str) -> str | None:
        """Problems of labels stand at the first."""
        return self.label_names[0] if where in ("label", "labels") else super().place(where)


MOST_BESIDE: Final = MOST_IN_BANK - 1


def _along(way: str, heading: str) -> bool:
    return any(DIRECTIONS[way][axis] and DIRECTIONS[heading][axis] for axis in range(3))


class SplitForm(Plain):
    """The label of the run that goes on after a box."""

    def __init__(self, *args: Any, proposed: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["label"] = forms.CharField(
            label=_("Label of the run that goes on"),
            max_length=20,
            initial=proposed,
            widget=forms.TextInput(attrs={"autocomplete": "off"}),
        )
