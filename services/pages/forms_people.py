"""Forms of people, crews, settings and sign-in: they read what was typed; commands judge it."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from bendcore.units import Units
from services.company import rules
from services.company.models import Company, Crew, Membership, Role
from services.pages.forms import Lengths, Plain, typed_length

ROLES: Final = (
    (Role.ELECTRICIAN.value, gettext_lazy("electrician")),
    (Role.FOREMAN.value, gettext_lazy("foreman")),
    (Role.MANAGER.value, gettext_lazy("manager")),
    (Role.ADMINISTRATOR.value, gettext_lazy("administrator")),
)

_MAIL: Final = {"autocomplete": "off", "inputmode": "email", "autocapitalize": "none", "spellcheck": "false"}


def _secret(complete: str) -> forms.PasswordInput:
    return forms.PasswordInput(attrs={"autocomplete": complete})


class MailField(forms.CharField):
    """A mail address as typed; the command judges it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=rules.LONGEST_MAIL, widget=forms.TextInput(attrs=_MAIL), **options)


class Boxes(forms.MultipleChoiceField):
    """Any of several, each with a box to tick."""

    widget = forms.CheckboxSelectMultiple

    is_group = True
    """The label names a group of boxes, not one field."""


class Box(forms.BooleanField):
    """Yes or no, with a box to tick."""

    is_box = True


class InviteForm(Plain):
    """Whom to invite."""

    email = MailField(label=gettext_lazy("Mail address"))
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=ROLES)
    crew_ids = Boxes(required=False)

    def __init__(self, *args: Any, crews: Iterable[Crew], crew_word: str, **options: Any) -> None:
        super().__init__(*args, **options)
        choices = [(str(each.pk), each.name) for each in crews]
        self.fields["crew_ids"] = Boxes(label=crew_word, choices=choices, required=False)
        if not choices:
            del self.fields["crew_ids"]

    def arguments(self) -> Mapping[str, Any]:
        """With no crews where there are none to choose."""
        return {"crew_ids": [], **self.cleaned_data}


class RoleForm(Plain):
    """Another role for somebody."""

    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=ROLES)


class MailForm(Plain):
    """Another mail address for somebody."""

    email = MailField(label=gettext_lazy("Mail address"))


class CrewForm(Plain):
    """A crew: its name and who is in it."""

    name = forms.CharField(
        label=gettext_lazy("Name"), max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    member_ids = Boxes(label=gettext_lazy("Who is in it"), required=False)

    def __init__(self, *args: Any, members: Iterable[Membership], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["member_ids"] = Boxes(
            label=_("Who is in it"),
            choices=[(str(each.pk), f"{each.person.name}, {_(each.role)}") for each in members],
            required=False,
        )


# ---------------------------------------------------------------- oneself


class NameForm(Plain):
    """One's own name."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=rules.LONGEST_NAME,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )


class OwnMailForm(Plain):
    """One's own mail address, with the password."""

    email = MailField(label=gettext_lazy("Mail address"))
    password = forms.CharField(
        label=gettext_lazy("Your password"), strip=False, max_length=128, widget=_secret("current-password")
    )


class OwnPasswordForm(Plain):
    """One's own password: the old one, and the new one."""

    old = forms.CharField(
        label=gettext_lazy("Password until now"),
        strip=False,
        max_length=128,
        widget=_secret("current-password"),
    )
    new = forms.CharField(
        label=gettext_lazy("New password"),
        strip=False,
        max_length=1000,
        widget=_secret("new-password"),
        help_text=gettext_lazy("12 characters or more. Several words that do not belong together are good."),
    )


class TokenForm(Plain):
    """The code of a one-time link."""

    token = forms.CharField(
        label=gettext_lazy("Link or code"),
        max_length=500,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "spellcheck": "false", "autocapitalize": "none"}
        ),
        help_text=gettext_lazy("As it was given to you: the whole link, or what stands after its #."),
    )


class NewPasswordForm(Plain):
    """A new password, for whoever came by a link."""

    new = OwnPasswordForm.base_fields["new"]


class NewPersonForm(NewPasswordForm):
    """Somebody new: a name and a password."""

    name = NameForm.base_fields["name"]

    field_order = ("name", "new")


# ---------------------------------------------------------------- settings

FOOT_M: Final = 0.3048
"""Metres; exact by definition."""


def cost_labels(word: Callable[[str], str], units: Units) -> Mapping[str, str]:
    """What a cost is of, for each of the engine's keys; the conduit's by the metre or the foot."""
    return {
        "stick": _("each %(stick)s") % {"stick": word("stick")},
        "metre": _("each metre of conduit") if units is Units.MM else _("each foot of conduit"),
        "cut": _("each saw cut"),
        "thread": _("each thread cut"),
        "coupler": _("each %(part)s") % {"part": word("coupler")},
        "running_coupler": _("each %(part)s") % {"part": word("running_coupler")},
        "union": _("each %(part)s") % {"part": word("union")},
        "handling": _("handling each bent %(stick)s") % {"stick": word("stick")},
    }


GROUPS: Final[tuple[tuple[str, Any, Any, tuple[str, ...]], ...]] = (
    (
        "house",
        gettext_lazy("The company"),
        gettext_lazy("Screens and papers follow from the next page on; papers made before stay as they are."),
        ("name", "words", "units", "paper", "time_zone"),
    ),
    (
        "money",
        gettext_lazy("Money"),
        gettext_lazy(
            "What was posted keeps its currency. Prices are bare figures: set them anew after a change of"
            " currency."
        ),
        ("currency", "foreman_sees_money"),
    ),
    (
        "rules",
        gettext_lazy("Rules and tolerances"),
        gettext_lazy(
            "Drafts are judged by them at once. Released plans stay as they were judged. A rule pack says by"
            " which table a figure was judged, no more: local codes and the licensed person in charge decide."
        ),
        ("rules", "tolerance_deg", "tolerance_mm", "risk"),
    ),
    (
        "joints",
        gettext_lazy("Cutting and joining"),
        gettext_lazy(
            "Drafts are planned with them at once. Released plans, and pieces made to them, stay. Saw cut and"
            " least kept length count for cuts ticked from now on."
        ),
        (
            "clearance_mm",
            "min_piece_mm",
            "kerf_mm",
            "least_offcut_mm",
            "long_thread_mm",
            "union_gap_mm",
        ),
    ),
    (
        "costs",
        gettext_lazy("What a joint’s parts cost"),
        gettext_lazy(
            "All in one unit, of money or of time: sticks are then split at the least cost. With none, the"
            " fewest sticks are taken, then the fewest cuts."
        ),
        tuple(f"joint_costs.{name}" for name in rules.COSTS),
    ),
)
"""The fields of the settings: name, heading, what a change of them changes and what not, fields."""


class SettingsForm(Plain):
    """All settings of the company. Lengths are typed in the units that it has now."""

    def __init__(self, *args: Any, company: Company, word: Callable[[str], str], **options: Any) -> None:
        self.company = company
        options.setdefault("initial", initial_settings(company))
        super().__init__(*args, **options)
        units = Units(company.units)
        self.fields["name"] = forms.CharField(label=_("Name"), max_length=120)
        self.fields["words"] = forms.ChoiceField(
            label=_("Words of the trade"), choices=[("uk", _("British")), ("us", _("American"))]
        )
        self.fields["units"] = forms.ChoiceField(
            label=_("Lengths are read and typed in"),
            choices=[("mm", _("millimetres")), ("in", _("inches and sixteenths"))],
        )
        self.fields["paper"] = forms.ChoiceField(
            label=_("Paper"), choices=[(each, each) for each in rules.PAPERS]
        )
        zones = dict.fromkeys((company.time_zone, *rules.time_zones()))
        self.fields["time_zone"] = forms.ChoiceField(
            label=_("Time zone"), choices=[(each, each) for each in zones]
        )
        self.fields["currency"] = forms.CharField(
            label=_("Currency"),
            max_length=3,
            help_text=_("Its three letters: GBP, EUR, USD."),
            widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
        )
        self.fields["foreman_sees_money"] = Box(label=_("A foreman sees prices and costs"), required=False)
        self.fields["rules"] = forms.ChoiceField(
            label=_("Rule pack"),
            choices=[("none", _("none: geometry alone")), ("uk", _("British")), ("us", _("American"))],
        )
        self.fields["tolerance_deg"] = forms.FloatField(
            label=_("A bend passes within, degrees"), widget=_figure()
        )
        self.fields["risk"] = forms.FloatField(
            label=_("Accepted chance of a bend past its angle"),
            widget=_figure(),
            help_text=_("0.05 is one bend in twenty: the first pull stops that much short."),
        )
        for name, label, needed, hint in _lengths(word):
            self.fields[name] = Lengths(
                label=f"{label}, {units.value}", units=units, required=needed, help_text=hint
            )
        labels = cost_labels(word, units)
        for name in rules.COSTS:
            self.fields[f"joint_costs.{name}"] = forms.FloatField(
                label=labels[name], widget=_figure(), required=False
            )
        self.order_fields([name for group in GROUPS for name in group[3]])

    def groups(self) -> list[tuple[str, str, str, list[forms.BoundField]]]:
        """The fields under their headings."""
        return [
            (name, str(title), str(said), [self[field] for field in fields])
            for name, title, said, fields in GROUPS
        ]

    def arguments(self) -> Mapping[str, Any]:
        """What was changed, so that a length left as it reads keeps its exact figure; of the costs, all."""
        given = {name: self.cleaned_data[name] for name in self.changed_data}
        if given.get("rules") == "none":
            given["rules"] = ""
        costs = [name for name in given if name.startswith("joint_costs.")]
        for name in costs:
            del given[name]
        if costs:
            told = {name: self.cleaned_data[f"joint_costs.{name}"] for name in rules.COSTS}
            if self.company.units == "in" and told["metre"] is not None:
                told["metre"] /= FOOT_M
            given["joint_costs"] = {name: cost for name, cost in told.items() if cost is not None}
        return given


def _figure() -> forms.TextInput:
    return forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "num"})


def _lengths(word: Callable[[str], str]) -> list[tuple[str, str, bool, str]]:
    """Each length: field, label, whether it must be told, what it is."""
    return [
        ("tolerance_mm", _("A length passes within"), True, ""),
        (
            "clearance_mm",
            _("Straight between a joint and a bend"),
            True,
            _("At least so much: room for the tool and the thread."),
        ),
        ("min_piece_mm", _("Shortest piece"), True, ""),
        ("kerf_mm", _("What the saw takes"), True, ""),
        (
            "least_offcut_mm",
            _("%(offcut)s kept from") % {"offcut": word("offcut").capitalize()},
            True,
            _("Shorter ends are not kept."),
        ),
        (
            "long_thread_mm",
            _("Long thread of a %(part)s") % {"part": word("running_coupler")},
            False,
            _("Thread, coupler and locknut. Empty: not known, counts as 0 and is warned of."),
        ),
        (
            "union_gap_mm",
            _("What a %(part)s adds between two ends") % {"part": word("union")},
            False,
            _("Empty: not known, counts as an ordinary joint and is warned of."),
        ),
    ]


def initial_settings(company: Company) -> dict[str, Any]:
    """The settings as they stand in the fields."""
    units = Units(company.units)
    told = {name: getattr(company, name) for name in rules.SETTINGS if name != "joint_costs"}
    told |= {name: typed_length(getattr(company, name), units) for name in rules.LENGTHS}
    told |= {name: f"{getattr(company, name):g}" for name in ("tolerance_deg", "risk")}
    told["rules"] = company.rules or "none"
    costs = dict(company.joint_costs)
    if units is Units.INCH and "metre" in costs:
        costs["metre"] *= FOOT_M
    told |= {f"joint_costs.{name}": f"{costs[name]:.10g}" if name in costs else "" for name in rules.COSTS}
    return told
