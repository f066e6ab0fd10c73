"""Every page of the office: how to reach it, as whom, and with which rows. Data alone, for `furnish_matrix`
and `test_matrix`."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

STATES: Final = ("empty", "full", "inches")
"""empty: a company that has just begun; full: one with one of everything and one with weeks of work, in mm
and the words of Britain; inches: the same in inches and the words of the United States."""

LONG: Final = (
    "Number two evaporator and clean-in-place pumphouse, upper mezzanine, behind the counterbalanced door"
)
"""What people may type as a name, where there is room for it."""


@dataclass(frozen=True, slots=True)
class Page:
    """A page, or another look of one (its name then says which, after a comma).

    role: who opens it, a stranger when empty.  query: after the question mark, with {names} of rows.
    empty_query: the same in the state empty, where it differs.  parts: names of rows for the parts of the
    address, where they are not called as the parts are.  address: the route, where another page has its name.
    status: what it answers.  path: where it is, when it is no route of ours.  session: what the session holds
    beside the sign-in, a key and the name of its value.  at_work: of the company that has weeks of work, else
    of the one that has one of everything.  states: in which it can be had.
    """

    role: str = "foreman"
    query: str = ""
    empty_query: str | None = None
    parts: Mapping[str, str] = field(default_factory=dict)
    address: str = ""
    status: int = 200
    path: str = ""
    session: tuple[str, str] | None = None
    at_work: bool = False
    states: tuple[str, ...] = STATES


_WITH_WORK = ("full", "inches")

PAGES: Final[Mapping[str, Page]] = {
    "wall-chart": Page(),
    "wall-chart, at work": Page(address="wall-chart", at_work=True, states=_WITH_WORK),
    "wall-chart, electrician": Page("electrician", address="wall-chart", at_work=True),
    "project": Page(at_work=True),
    "project, filtered": Page(
        address="project",
        at_work=True,
        query="crew={crew}&state=cut&late=1&sort=priority",
        empty_query="late=1&sort=due",
    ),
    "project, without runs": Page(address="project", parts={"project_id": "job"}, states=_WITH_WORK),
    "search": Page("electrician", at_work=True, query="q=0", empty_query="q=nothing-of-this-name"),
    "search, nothing asked": Page("electrician", address="search"),
    "projects": Page(),
    "projects, electrician": Page("electrician", address="projects", at_work=True),
    "project-new": Page(),
    "project-change": Page(),
    "project-change, at work": Page(address="project-change", at_work=True, states=_WITH_WORK),
    "room-new": Page(),
    "survey-import": Page(),
    "survey-preview": Page(parts={"upload_id": "upload"}),
    "run-new": Page(),
    "run": Page(),
    "run, at work": Page(address="run", at_work=True, states=_WITH_WORK),
    "run, parted": Page(address="run", parts={"run_id": "parted"}, states=_WITH_WORK),
    "run, electrician": Page("electrician", address="run"),
    "run-change": Page(parts={"run_id": "draft"}),
    "run-delete": Page(parts={"run_id": "draft"}),
    "run-sheet": Page(parts={"run_id": "draft"}),
    "run-sheet, with a stop": Page(address="run-sheet", parts={"run_id": "stopped"}, states=_WITH_WORK),
    "run-sheet, in a bank": Page(address="run-sheet", parts={"run_id": "beside"}, states=_WITH_WORK),
    "run-bank": Page(parts={"run_id": "draft"}, query="count=3"),
    "run-split": Page(parts={"run_id": "boxed"}, query="row=1"),
    "run-judge": Page("manager", parts={"run_id": "stopped"}),
    "run-compare": Page(query="before=1&after=draft"),
    "papers": Page(),
    "papers, of a run": Page(address="papers", at_work=True, query="of=run&id={run}"),
    "work": Page("electrician", at_work=True),
    "stick": Page("electrician"),
    "piece": Page("electrician"),
    "piece, at work": Page("electrician", address="piece", at_work=True, states=_WITH_WORK),
    "piece, to be bent": Page("electrician", address="piece", query="step=bend-1", states=_WITH_WORK),
    "piece, to be checked": Page("electrician", address="piece", query="step=check"),
    "piece, to be fixed": Page("foreman", address="piece", query="step=install"),
    "piece, scrapped": Page(address="piece", parts={"piece_id": "lost"}, states=_WITH_WORK),
    "scrap": Page("electrician"),
    "benders": Page(),
    "benders, electrician": Page("electrician", address="benders", at_work=True),
    "bender-change": Page(),
    "former-new": Page(),
    "former-change": Page(),
    "stock": Page(),
    "stock, manager": Page("manager", address="stock", at_work=True),
    "review": Page("manager", at_work=True),
    "review-job": Page("manager", at_work=True),
    "review-entries": Page("manager", at_work=True, query="kind=material"),
    "review-entries, scrap": Page("manager", address="review-entries", at_work=True, query="kind=scrap"),
    "people": Page("administrator"),
    "person": Page("administrator"),
    "crews": Page("administrator"),
    "crew": Page("administrator"),
    "settings": Page("administrator"),
    "rights": Page("electrician"),
    "account": Page("electrician"),
    "join": Page("", states=("empty",)),
    "join, link opened": Page(
        "", address="join", session=("invitation", "invitation_hash"), states=_WITH_WORK
    ),
    "reset": Page("", states=("empty",)),
    "reset, link opened": Page("", address="reset", session=("reset", "reset_hash"), states=_WITH_WORK),
    "sign-in": Page("", states=("empty",)),
    "api-reference": Page("electrician", states=("full",)),
    "nothing there": Page("electrician", path="/no-such-page/", status=404, states=("full",)),
    "not among the rights": Page("electrician", path="/review/", status=403, states=("full",)),
}

PARTS: Final = ("chart-live", "run-drawn", "pack")
"""Answer GET with a part that stands in a page of the table above, and are seen there."""

FILES: Final = ("survey-file", "bend-cards", "paper-drawn", "pack-pdf")
"""Answer GET with a file to keep or to print."""


def route_of(name: str) -> str:
    """The name of the page's route; empty when it has none of ours."""
    page = PAGES[name]
    return "" if page.path else page.address or name
