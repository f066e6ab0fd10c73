"""Fills an empty database with a contractor that has not measured anything yet. Run as a program of its
own."""

from datetime import date
from decimal import Decimal

from services.config import embedded

embedded.prepare()

import django  # noqa: E402 - the environment comes first

django.setup()

from django.core.management import call_command  # noqa: E402

from services.bench import commands as bench  # noqa: E402
from services.company import commands as companies  # noqa: E402
from services.company.models import Role, User  # noqa: E402
from services.core.commands import Actor  # noqa: E402
from services.core.scoping import company_scope  # noqa: E402
from services.stock import commands as stock  # noqa: E402

PASSWORD = "copper-kettle-adrift-9"

call_command("migrate", verbosity=0)


def person(name: str, address: str) -> User:
    """Somebody who can sign in."""
    return User.objects.create_user(address, name, PASSWORD)


ilse = person("Ilse Verrin", "ilse@ostley.example")
joss = person("Joss Breck", "joss@ostley.example")
jonah = person("Jonah Pell", "jonah@ostley.example")
company, administrator = companies.found_company(
    name="Ostley Electrical", person=person("Wim Hale", "wim@ostley.example"), settings={}
)
with company_scope(company.pk):
    members = {
        role: companies.add_member(actor=administrator, person=who, role=role)
        for who, role in ((ilse, Role.FOREMAN), (joss, Role.ELECTRICIAN), (jonah, Role.MANAGER))
    }
    companies.form_crew(
        actor=administrator,
        name="Breck’s gang",
        member_ids=[members[Role.FOREMAN].pk, members[Role.ELECTRICIAN].pk],
    )
    foreman = Actor(ilse.pk, company.pk, Role.FOREMAN, administrator.device_id)
    bender = bench.add_bender(actor=foreman, name="Bench bender 2")
    bench.add_former(
        actor=foreman,
        bender_id=bender.pk,
        conduit="steel-20-heavy",
        centreline_radius_mm=73.0,
        k=0.03,
        c_deg=0.0,
        sd_deg=0.5,
    )
    stock.set_price(
        actor=administrator,
        conduit="steel-20-heavy",
        full_length_mm=3750.0,
        price=Decimal("11.25"),
        from_day=date(2020, 1, 1),
    )
    stock.receive(actor=administrator, conduit="steel-20-heavy", lengths=20)

other, _administrator = companies.found_company(
    name="Quillback Electric",
    person=person("Ada Quill", "ada@quillback.example"),
    settings={
        "words": "us",
        "units": "in",
        "currency": "USD",
        "paper": "Letter",
        "time_zone": "America/Chicago",
    },
)
with company_scope(other.pk):
    companies.add_member(actor=_administrator, person=ilse, role=Role.FOREMAN)
