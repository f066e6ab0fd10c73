"""The life of a piece, without a database."""

import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from services.tracking import rules
from services.tracking.models import Kind
from services.tracking.rules import Entry, History, Illegal, TickIn

PLAN = uuid.UUID(int=1)


def entry(
    kind: str, *, implied_by: uuid.UUID | None = None, takes_back: Entry | None = None, **figures: object
) -> Entry:
    made = uuid.uuid4()
    return Entry(made, made, kind, figures, PLAN, takes_back.tick_id if takes_back else None, implied_by)


def lived(*kinds: str | tuple[str, str]) -> History:
    """A history by its acts, each with the ticks that it implies, as the ledger writes them."""
    history = History([entry("released")])
    for act in kinds:
        do(history, act if isinstance(act, str) else f"{act[0]} {act[1]}")
    return history


def do(history: History, act: str) -> Entry:
    kind, figures = act, {}
    if act.startswith("checked "):
        kind, figures = "checked", {"verdict": act.removeprefix("checked ")}
    made = entry(kind, **figures)
    for implied in rules.implied_entries(history, made):
        history.take(
            entry(implied, implied_by=made.id, **({"verdict": "pass"} if implied == "checked" else {}))
        )
    history.take(made)
    return made


@pytest.mark.parametrize(
    ("acts", "state"),
    [
        ((), "released"),
        (("cut",), "cut"),
        (("cut", "bent"), "bent"),
        (("cut", "bent", "checked pass", "installed"), "installed"),
        (("bent", "cut"), "bent"),
        (("cut", "threaded"), "cut"),
        (("cut", "bent", "threaded"), "bent"),
        (("cut", "pulled"), "cut"),
        (("bent", "checked correct"), "bent"),
        (("bent", "checked open"), "bent"),
        (("bent", "checked shorten"), "rework"),
        (("bent", "checked shorten", "reworked"), "bent"),
        (("bent", "checked reject"), "rejected"),
        (("bent", "checked reject", "reworked"), "bent"),
        (("bent", "checked reject", "scrapped"), "scrapped"),
        (("bent", "checked reject", "salvaged"), "salvaged"),
        (("installed", "taken down"), "checked"),
        (("installed",), "installed"),
        (("scrapped",), "scrapped"),
        (("cut", "note"), "cut"),
    ],
)
def test_these_ticks_in_this_order_lead_to_this_state(acts: tuple[str, ...], state: str) -> None:
    assert lived(*acts).life.state == state


@pytest.mark.parametrize(
    ("acts", "illegal"),
    [
        (("cut",), "cut"),
        (("cut", "bent"), "cut"),
        (("bent", "cut"), "cut"),
        (("bent",), "salvaged"),
        (("cut",), "taken down"),
        (("cut",), "reworked"),
        (("bent", "checked reject"), "checked pass"),
        (("bent", "checked reject"), "threaded"),
        (("bent", "checked reject"), "installed"),
        (("bent", "checked shorten"), "installed"),
        (("bent", "checked shorten"), "checked pass"),
        (("installed",), "scrapped"),
        (("scrapped",), "reworked"),
        (("scrapped",), "scrapped"),
        (("scrapped",), "installed"),
    ],
)
def test_this_tick_is_not_legal_there_and_changes_nothing(acts: tuple[str, ...], illegal: str) -> None:
    history = lived(*acts)
    before = (history.life, history.standing)
    with pytest.raises(Illegal):
        do(history, illegal)
    assert (history.life, history.standing) == before


def test_from_rejected_only_rework_scrap_and_salvage_lead_on() -> None:
    moving = {act for (state, act), now in rules.MOVES.items() if state == "rejected" and now != "rejected"}
    assert moving == {"reworked", "scrapped", "salvaged"}


def test_a_later_tick_implies_the_steps_before_it() -> None:
    history = lived("installed")
    assert [each.kind for each in history.standing] == ["released", "cut", "bent", "checked", "installed"]
    assert [bool(each.implied_by) for each in history.standing] == [False, True, True, True, False]


def test_every_move_is_the_same_as_making_each_implied_step_first() -> None:
    for (state, act), now in rules.MOVES.items():
        kind = "checked" if act.startswith("checked ") else act
        for implied in rules.implied_kinds(state, kind):
            state = rules.MOVES[state, "checked pass" if implied == "checked" else implied]
        assert rules.MOVES[state, act] == now


def test_a_real_tick_takes_the_place_of_its_implied_one_and_is_counted_once() -> None:
    history = lived("installed", "cut")
    cuts = [each for each in history.standing if each.kind == "cut"]
    assert [each.implied_by for each in cuts] == [None]
    assert history.life.state == "installed"
    with pytest.raises(Illegal):
        do(history, "cut")


def test_a_late_check_that_did_not_pass_does_not_take_the_place_of_an_implied_pass() -> None:
    with pytest.raises(Illegal):
        do(lived("installed"), "checked reject")


def test_taking_back_what_took_an_implied_ones_place_brings_the_implied_one_back() -> None:
    history = lived("bent")
    cut = do(history, "cut")
    change = history.take(entry("taken back", takes_back=cut))
    assert [each.id for each in change.undone] == [cut.id]
    assert [(each.kind, bool(each.implied_by)) for each in change.redone] == [("cut", True)]
    assert [(each.kind, bool(each.implied_by)) for each in history.standing] == [
        ("released", False),
        ("cut", True),
        ("bent", False),
    ]


def test_taking_a_tick_back_undoes_what_it_implied_too() -> None:
    history = lived()
    bent = do(history, "bent")
    change = history.take(entry("taken back", takes_back=bent))
    assert [each.kind for each in change.undone] == ["bent", "cut"]
    assert history.life.state == "released"
    assert not history.life.bent_once


def test_only_the_latest_standing_tick_can_be_taken_back() -> None:
    history = lived()
    cut, bent = do(history, "cut"), do(history, "bent")
    with pytest.raises(Illegal):
        history.take(entry("taken back", takes_back=cut))
    history.take(entry("taken back", takes_back=bent))
    history.take(entry("taken back", takes_back=cut))
    assert history.life.state == "released"


def test_the_release_itself_is_not_the_latest_tick_that_could_be_taken_back() -> None:
    assert lived().latest is None


ACTS = sorted({act for _state, act in rules.MOVES} - {"released", "assigned", "carried"})


@given(st.lists(st.sampled_from([*ACTS, "back"]), max_size=25))
def test_taking_everything_back_from_the_top_leads_to_the_release_again(acts: list[str]) -> None:
    history = lived()
    lives = [history.life]
    for act in acts:
        if act == "back":
            if history.latest is not None:
                history.take(entry("taken back", takes_back=history.latest))
                lives.pop()
                assert history.life == lives[-1]
            continue
        try:
            do(history, act)
        except Illegal:
            # what was implied before an illegal tick is nothing the ledger would write
            while history.latest is not None and history.latest.implied_by:
                history._stack.pop()
            continue
        lives.append(history.life)
    standing = [each.kind for each in history.standing]
    for kind in rules.WAY:
        assert standing.count(kind) <= 1 or kind == Kind.CHECKED
    while history.latest is not None:
        history.take(entry("taken back", takes_back=history.latest))
    assert history.life.state == "released"


def test_the_drawing_in_the_docs_is_the_one_made_from_the_table() -> None:
    page = Path(__file__).parents[2] / "docs" / "states.md"
    assert page.read_text(encoding="utf-8") == rules.states_page()


@pytest.mark.parametrize(
    ("role", "state", "kinds"),
    [
        ("electrician", "rejected", ["reworked", "scrapped", "note"]),
        ("foreman", "rejected", ["assigned", "reworked", "scrapped", "salvaged", "carried", "note"]),
        ("electrician", "installed", ["taken down", "note"]),
        ("manager", "released", []),
        ("electrician", "waiting", []),
    ],
)
def test_these_kinds_may_be_ticked_by_that_role_from_that_state(
    role: str, state: str, kinds: list[str]
) -> None:
    assert rules.kinds_from(state, role) == kinds


def test_a_wrong_clock_is_suspect_and_the_tick_is_dated_by_receipt() -> None:
    received = datetime(
        2026, 3, 29, 23, 30, tzinfo=UTC
    )  # 30 March 00:30 in London: summer time began that night
    for wrong in (timedelta(days=1000), timedelta(minutes=11), timedelta(days=-8)):
        assert rules.is_suspect(received + wrong, received)
    assert not rules.is_suspect(received - timedelta(days=2), received)
    told = {"received_at": received, "zone": "Europe/London"}
    assert (
        rules.day_of_tick(received - timedelta(days=2), clock_suspect=False, **told).isoformat()
        == "2026-03-27"
    )
    assert (
        rules.day_of_tick(received - timedelta(days=99), clock_suspect=True, **told).isoformat()
        == "2026-03-30"
    )


def a_tick(**changed: object) -> TickIn:
    fields: dict[str, object] = {
        "id": uuid.UUID(int=5),
        "sequence": 1,
        "kind": "note",
        "piece_id": uuid.UUID(int=6),
        "plan_id": PLAN,
        "made_at": datetime(2026, 5, 4, 8, 0, tzinfo=UTC),
        "figures": {"note": "to the east wall", "nothing": None},
    }
    return TickIn(**{**fields, **changed})  # type: ignore[arg-type]


def test_one_content_has_one_fingerprint_whatever_the_order_of_keys_the_zone_or_the_way_of_a_number() -> None:
    berlin = datetime.fromisoformat("2026-05-04T10:00:00+02:00")
    one = a_tick(kind="cut", figures={"length_mm": 5.0, "offcut": "R1"})
    other = a_tick(kind="cut", figures={"offcut": "R1", "length_mm": 5}, made_at=berlin)
    assert rules.fingerprint(one) == rules.fingerprint(other)
    assert rules.fingerprint(one) != rules.fingerprint(
        a_tick(kind="cut", figures={"length_mm": 6, "offcut": "R1"})
    )


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("sequence", 0),
        ("sequence", True),
        ("sequence", 2**53),
        ("sequence", "1"),
        ("kind", "released"),
        ("kind", "settled"),
        ("kind", "polished"),
        ("kind", None),
        ("piece_id", "no id"),
        ("plan_id", None),
        ("made_at", "yesterday"),
        ("made_at", datetime(2026, 5, 4, 8, 0)),  # noqa: DTZ001 - a time without its zone is what is refused
        ("made_at", datetime(1, 1, 1, tzinfo=UTC)),
        ("figures", [1]),
        ("takes_back", uuid.UUID(int=7)),
    ],
)
def test_a_tick_with_this_is_malformed_and_the_reason_names_it(field: str, value: object) -> None:
    assert rules.malformed(a_tick()) is None
    reason = rules.malformed(a_tick(**{field: value}))
    assert reason is not None
    assert reason.answer == "refused"
    assert reason.problems[0].where == field


@pytest.mark.parametrize(
    ("kind", "figures", "where"),
    [
        ("checked", {}, "figures.verdict"),
        ("checked", {"verdict": "fine"}, "figures.verdict"),
        ("checked", {"verdict": "pass", "angle": 1}, "figures.angle"),
        ("scrapped", {}, "figures.cause"),
        ("scrapped", {"cause": "kinked", "saved_mm": -1}, "figures.saved_mm"),
        ("scrapped", {"cause": "kinked", "saved_mm": float("nan")}, "figures.saved_mm"),
        ("scrapped", {"cause": "x" * 61}, "figures.cause"),
        ("pulled", {"bend": 0, "pull": 1}, "figures.bend"),
        ("pulled", {"bend": 1}, "figures.pull"),
        ("cut", {"offcut": "R\x001"}, "figures.offcut"),
        ("cut", {"verdict": "pass"}, "figures"),
        ("assigned", {"crew": "the lads"}, "figures.crew"),
        ("note", {}, "figures.note"),
    ],
)
def test_these_figures_are_refused_by_name(kind: str, figures: dict[str, object], where: str) -> None:
    _kept, reason = rules.clean_figures(kind, figures)
    assert reason is not None
    assert reason.answer == "refused"
    assert [each.where for each in reason.problems] == [where]


LEAVES = st.none() | st.booleans() | st.floats() | st.integers() | st.text()


@given(st.recursive(LEAVES, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
def test_whatever_was_sent_has_a_canonical_text_without_what_a_database_cannot_keep(content: object) -> None:
    text = rules.canonical(content)
    assert "\\u0000" not in text
    text.encode("ascii")
