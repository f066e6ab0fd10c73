"""Every drawing, measured in a browser: no text on a text or a line, nothing outside, nothing too small."""

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from playwright.sync_api import Browser, Page

from bendcore import Bank, Dialect, Plan, SpecProblem, Units, plan
from bendcore.drawing import TOKENS, pose, run_isometric, stick_isometric, strip, stylesheet
from bendcore.drawing.lettering import ASCENT, DESCENT, WIDTHS

TOUCH = 0.25
"""px by which two shapes may lie in each other before they count as touching: what rounding blurs."""

SMALLEST_TEXT = 11.0
"""px: nothing on a drawing is smaller (docs/drawings.md)."""

GROUND = [
    ["rgb(233, 236, 234)", "rgb(168, 178, 182)"],
    ["rgb(243, 244, 241)", "rgb(168, 178, 182)"],
    ["rgb(224, 228, 227)", "rgb(168, 178, 182)"],
]
"""Fill and outline of floor and walls: the only filled shapes that a text may stand on."""

SVG = "http://www.w3.org/2000/svg"
EXAMPLES = sorted((Path(__file__).parents[2] / "docs" / "examples").glob("*.json"))

# Looks at every svg of the page and tells what is wrong with each. A line is walked along in steps of 0.75 px
# (a wide one 1.5), half its width counted. A plate put behind a text to hide what crosses it is told like any
# other shape.
MEASURE = """
({touch, smallest, ground}) => [...document.querySelectorAll('svg')].map(svg => {
  const faults = [];
  const origin = svg.getBoundingClientRect();
  const named = el => el.tagName === 'text' ? `"${el.textContent}"`
    : [el.tagName, el.getAttribute('class') || '', (el.getAttribute('d') || '').slice(0, 40)].join(' ');
  const [, , width, height] = svg.getAttribute('viewBox').split(' ').map(Number);
  if (Math.abs(origin.width - width) > 0.5) faults.push(`drawn ${origin.width} px wide, not ${width}`);
  const texts = [...svg.querySelectorAll('text')].map(el => {
    const box = el.getBoundingClientRect();
    return {el, l: box.left - origin.left, t: box.top - origin.top,
            r: box.right - origin.left, b: box.bottom - origin.top};
  });
  const inside = box => Math.min(box.l, box.t, width - box.r, height - box.b) >= -touch;
  for (const text of texts) {
    if (text.r - text.l < 1) faults.push(`${named(text.el)} is not shown`);
    if (!inside(text)) faults.push(`${named(text.el)} leaves the drawing`);
    const size = parseFloat(getComputedStyle(text.el).fontSize);
    if (size < smallest) faults.push(`${named(text.el)} is ${size} px`);
  }
  texts.forEach((a, i) => texts.slice(i + 1).forEach(b => {
    if (a.l + touch < b.r && b.l + touch < a.r && a.t + touch < b.b && b.t + touch < a.b)
      faults.push(`${named(a.el)} touches ${named(b.el)}`);
  }));
  const shapes = 'line, path, circle, rect, polygon, polyline, ellipse, image, use, foreignObject';
  for (const el of [...svg.querySelectorAll(shapes)].filter(el => !el.closest('defs'))) {
    if (!el.getTotalLength) { faults.push(`${named(el)} cannot be measured`); continue; }
    const style = getComputedStyle(el);
    const drawn = style.stroke !== 'none';
    const stands = ([fill, line]) => style.fill === fill && style.stroke === line;
    const filled = style.fill !== 'none' && !ground.some(stands);
    if (!drawn && style.fill === 'none') faults.push(`${named(el)} is not shown`);
    const half = drawn ? parseFloat(style.strokeWidth) / 2 : 0;
    const bare = el.getBBox();
    const box = {l: bare.x - half, t: bare.y - half,
                 r: bare.x + bare.width + half, b: bare.y + bare.height + half};
    if (!inside(box)) faults.push(`${named(el)} leaves the drawing`);
    const near = texts.filter(t => t.l < box.r && box.l < t.r && t.t < box.b && box.t < t.b);
    if (!near.length) continue;
    const hit = new Set();
    const long = el.getTotalLength(), steps = Math.max(1, Math.ceil(long / (half > 1.4 ? 1.5 : 0.75)));
    for (let i = 0; i <= steps; i++) {
      const p = el.getPointAtLength(long * i / steps);
      for (const text of near) {
        const dx = Math.max(text.l - p.x, 0, p.x - text.r), dy = Math.max(text.t - p.y, 0, p.y - text.b);
        const away = Math.hypot(dx, dy);
        if (half ? away < half - touch : away === 0) hit.add(text);
      }
    }
    if (filled) for (const text of near) {
      const p = svg.createSVGPoint();
      const middle = [(text.l + text.r) / 2, (text.t + text.b) / 2];
      for (const spot of [[text.l, text.t], [text.r, text.t], [text.l, text.b], [text.r, text.b], middle]) {
        [p.x, p.y] = spot;
        if (el.isPointInFill(p)) hit.add(text);
      }
    }
    for (const text of hit) faults.push(`${named(el)} touches ${named(text.el)}`);
  }
  return faults;
})
"""

PAGE_TOKENS = ":root { " + "".join(f"--{name}: {value}; " for name, value in TOKENS.items()) + "}"


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page(viewport={"width": 1300, "height": 900})
    yield page
    page.close()


def faults(page: Page, drawings: dict[str, str]) -> dict[str, list[str]]:
    """What is wrong with each drawing, by its name; empty when nothing is."""
    held = "".join(f"<div>{text}</div>" for text in drawings.values())
    page.set_content(f"<style>{PAGE_TOKENS} {stylesheet()} body {{ margin: 0 }}</style><body>{held}</body>")
    page.evaluate(
        "() => document.querySelectorAll('svg').forEach("
        "svg => svg.setAttribute('width', svg.viewBox.baseVal.width))"
    )
    found = page.evaluate(MEASURE, {"touch": TOUCH, "smallest": SMALLEST_TEXT, "ground": GROUND})
    return {name: told for name, told in zip(drawings, found, strict=True) if told}


def drawings_of(planned: Plan, *, units: Units, dialect: Dialect) -> dict[str, str]:
    """The drawings of a plan in the widths in use, on paper and on screen, a bend in hand or not."""
    found: dict[str, str] = {}

    def keep(name: str, draw: Any, *given: Any, **asked: Any) -> None:
        prefix = f"d{len(found)}"
        found[f"{name} {asked}"] = draw(planned, *given, units=units, dialect=dialect, prefix=prefix, **asked)

    for stick in planned.sticks[:4]:
        number, bends = stick.number, len(stick.bends)
        held = number * 7 % bends + 1 if bends else None
        for width in (328.0, 720.0, 1200.0):
            keep(f"strip {number}", strip, number, width=width)
            if held:
                keep(f"strip {number}", strip, number, width=width, highlight=held, paper=False)
        for width in (150.0, 210.0, 360.0):
            keep(f"stick {number}", stick_isometric, number, width=width)
        keep(
            f"stick {number}",
            stick_isometric,
            number,
            width=196.0,
            height=216.0,
            highlight=held,
            paper=False,
        )
        for bend in [bend for bend in stick.bends if bend.order is not None][:4]:
            for width in (240.0, 328.0, 560.0):
                keep(f"pose {number}", pose, number, bend.number, width=width)
            keep(f"pose {number}", pose, number, bend.number, width=196.0, height=216.0, paper=False)
    corners = sum(corner.angle > 0.0 for corner in planned.route.corners)
    keep("run", run_isometric, width=210.0)
    keep("run", run_isometric, width=520.0, bold=1)
    keep("run", run_isometric, width=196.0, height=216.0, bold=len(planned.sticks), paper=False)
    keep(
        "run",
        run_isometric,
        width=360.0,
        paper=False,
        ring=(corners + 1) // 2 or None,
        ends=("wall box B4", "lighting box L2"),
    )
    return found


# ---------------------------------------------------------------------------------------------- what is drawn

HEADINGS = ("up", "down", "north", "south", "east", "west")
AXIS = {"up": 0, "down": 0, "north": 1, "south": 1, "east": 2, "west": 2}
CONDUITS: tuple[dict[str, Any], ...] = (
    {"outside_diameter": 20.0, "stock_length": 3750.0},
    {"outside_diameter": 25.0, "stock_length": 3750.0},
    {"outside_diameter": 23.4, "stock_length": 3048.0, "joining": "plain"},
    {"outside_diameter": 33.4, "stock_length": 3048.0},
)
SET_LINES: tuple[dict[str, Any], ...] = (
    {"kind": "begin"},
    {"kind": "arrow", "take_up": 90.0},
    {"kind": "middle"},
    {"kind": "back"},
)


def random_run(seed: int) -> tuple[Plan, Units, Dialect]:
    """A run as somebody might survey it: 0 to 12 bends, along the room and aslant, in one stick or more.

    Where bends come too near, the legs told as too short are made longer and it is tried again.
    """
    draw = random.Random(seed)
    bends = draw.choice((0, 1, 2, 3, 4, 5, 6, 8, 10, 12))
    radius = draw.choice((60.0, 73.0, 101.0, 114.3))
    heading = draw.choice(HEADINGS)
    spec: dict[str, Any] = {
        "run": f"{seed:02d}",
        "conduit": dict(draw.choice(CONDUITS)),
        "former": {"centreline_radius": radius, "set_line": draw.choice(SET_LINES)},
        "route": {"heading": heading, "steps": _random_steps(draw, bends, AXIS[heading])},
        "ends": {
            "start": {"kind": "spout", "allowance": 12.0},
            "finish": {"kind": "coupler", "allowance": 20.0},
        },
    }
    if draw.random() < 0.5:
        spec["joints"] = "none"
    units, dialect = draw.choice(((Units.MM, Dialect.UK), (Units.INCH, Dialect.US)))
    for _ in range(40):
        try:
            planned = plan(spec)
        except SpecProblem as problem:
            _grow(spec, problem, radius)
            continue
        assert isinstance(planned, Plan)
        return planned, units, dialect
    raise AssertionError(f"run {seed} cannot be planned: {spec}")


def _random_steps(draw: random.Random, bends: int, axis: int) -> list[dict[str, Any]]:
    steps: list[dict[str, Any]] = []
    made = 0
    while made < bends:
        steps.append({"leg": draw.uniform(*draw.choice(((90, 350), (250, 900), (600, 2600))))})
        toward = draw.choice([each for each in HEADINGS if AXIS[each] != axis])
        kind, last = draw.random(), made + 1 == bends
        if kind < 0.5:
            steps.append({"bend": 90.0, "toward": toward})
            axis, made = AXIS[toward], made + 1
        elif kind < 0.6 and last:
            angle = draw.choice((5.0, 15.0, 22.5, 45.0, 60.0, 120.0, 175.0))
            steps.append({"bend": angle, "toward": toward})
            made += 1
        elif kind < 0.8:
            angle, rise = (
                draw.choice((10.0, 15.0, 22.5, 30.0, 45.0)),
                draw.choice((20.0, 35.0, 60.0, 120.0, 300.0)),
            )
            steps.append({"offset": {"rise": rise, "angle": angle, "toward": toward}})
            made += 2
        elif kind < 0.9:
            steps.append({"saddle_set": {"bends": 3, "rise": 60.0, "angle": 22.5, "toward": toward}})
            made += 3
        elif last:
            steps.append({"kick": {"rise": draw.uniform(80, 400), "angle": 30.0, "toward": toward}})
            made += 1
    if not steps or "kick" not in steps[-1]:
        steps.append({"leg": draw.uniform(150, 1800)})
    return steps


def _grow(spec: dict[str, Any], problem: SpecProblem, radius: float) -> None:
    for each in problem.problems:
        if each.code == "no-joint":
            spec["joints"] = "none"
            continue
        index = int(each.where.partition("steps[")[2].partition("]")[0])
        step = spec["route"]["steps"][index]
        if "leg" in step:
            step["leg"] += float(each.figures.get("grow_mm") or radius) + 5.0
        else:
            inner = next(value for value in step.values() if isinstance(value, dict))
            inner["rise"] += float(each.figures.get("grow_rise_mm") or radius) + 1.0


@pytest.mark.parametrize("seed", range(64))
def test_no_text_of_a_random_run_touches_a_line_or_another_text(page: Page, seed: int) -> None:
    planned, units, dialect = random_run(seed)

    assert faults(page, drawings_of(planned, units=units, dialect=dialect)) == {}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("units", [Units.MM, Units.INCH])
def test_no_text_of_an_example_touches_a_line_or_another_text(page: Page, path: Path, units: Units) -> None:
    planned = plan(json.loads(path.read_text(encoding="utf-8")))
    dialect = Dialect.US if units is Units.INCH else Dialect.UK

    for each in planned.plans if isinstance(planned, Bank) else (planned,):
        assert faults(page, drawings_of(each, units=units, dialect=dialect)) == {}


def stairs(corners: int, tread: float) -> list[list[float]]:
    return [[tread * ((i + 1) // 2), 0.0, tread * (i // 2)] for i in range(corners + 2)]


BENDER: dict[str, Any] = {
    "hold_min": 60.0,
    "swing_min": 20.0,
    "floor": {"normal": [0, 1, 0], "offset": -900.0},
    "bodies": [{"min": [-260, -880, -120], "max": [160, -60, 120]}],
}

AWKWARD: dict[str, dict[str, Any]] = {
    "a straight stick along a line of sight": {"route": {"points": [[0, 0, 0], [800, -800, 800]]}},
    "a straight stick straight up": {"route": {"points": [[0, 0, 0], [0, 0, 5]]}},
    "a short stick that is thick on the sheet": {"route": {"points": [[0, 0, 0], [60, 0, 0]]}},
    "a short bent stick": {
        "former": {"centreline_radius": 30.0},
        "route": {"points": [[0, 0, 0], [0, 0, 50], [40, 0, 50]]},
    },
    "a bend that all but turns back": {
        "former": {"centreline_radius": 20.5},
        "route": {"points": [[0, 0, 0], [1000, 0, 0], [100, 78.7, 0]]},
    },
    "a bend of 5 degrees": {"route": {"points": [[0, 0, 0], [1000, 0, 0], [2000, 0, 87.5]]}},
    "marks within a millimetre": {
        "former": {"centreline_radius": 60.0, "set_line": {"kind": "back"}},
        "route": {"points": [[0, 0, 0], [3000, 0, 0], [3000, 0, 121], [3001, 0, 9000]]},
    },
    "a mark at the datum end": {
        "former": {"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": -77.0}},
        "route": {"points": [[0, 0, 0], [150, 0, 0], [150, 400, 0]]},
    },
    "marks off both ends": {
        "former": {"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": 900.0}},
        "route": {"points": [[0, 0, 0], [150, 0, 0], [150, 400, 0], [600, 400, 0]]},
    },
    "legs on top of each other on the sheet": {
        "route": {
            "points": [[0, 0, 0], [900, 0, 0], [900, 900, 0], [900, 900, 900], [0, 900, 900], [0, 0, 900]]
        }
    },
    "twenty bends": {"route": {"points": stairs(20, 320.0)}},
    "forty bends": {"route": {"points": stairs(40, 320.0)}},
    "two hundred bends": {"route": {"points": stairs(200, 320.0)}},
    "a stick that is turned round in the bender": {
        "bender": {**BENDER, "hold_min": 300.0},
        "route": {"points": [[0, 0, 0], [0, 0, 250], [900, 0, 250], [900, 250, 250]]},
    },
    "a bender that lies flat": {
        "bender": {**BENDER, "floor": {"normal": [0, 0, 1], "offset": -700}, "bodies": []},
        "route": {"points": [[0, 0, 0], [0, 0, 700], [900, 0, 700], [900, 900, 700], [900, 900, 1500]]},
    },
    "a bender in which the stick stands upright": {
        "bender": {"floor": {"normal": [1, 0, 0], "offset": -1200}},
        "route": {"points": [[0, 0, 0], [0, 0, 700], [900, 0, 700], [900, 900, 700]]},
    },
    "a bender that stands aslant and rolls its shoe": {
        "bender": {
            **BENDER,
            "motion": "hooked",
            "floor": {"normal": [0.3, 1, 0.4], "offset": -300},
            "planes": [{"normal": [0, 0, -1], "offset": -400}],
        },
        "route": {"points": [[0, 0, 0], [0, 0, 700], [900, 300, 700], [900, 900, 100]]},
    },
    "a bend at the very ends of a stick": {
        "route": {"points": [[0, 0, 0], [73, 0, 0], [73, 500, 0], [146, 500, 0]]},
    },
    "fittings of every kind on a short run": {
        "joints": {},
        "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
        "rules": "uk",
        "route": {
            "heading": "up",
            "steps": [
                {"leg": 400},
                {"fitting": {"kind": "draw_in_box", "leg_in": 40, "leg_out": 40}},
                {"leg": 500},
                {"fitting": {"kind": "tee", "angle": 90, "toward": "right", "leg_in": 50, "leg_out": 50}},
                {"leg": 500},
                {
                    "fitting": {
                        "kind": "bought_bend",
                        "angle": 90,
                        "toward": "in",
                        "radius": 80,
                        "leg_in": 110,
                        "leg_out": 110,
                    }
                },
                {"leg": 500},
                {"fitting": {"kind": "inspection_bend", "angle": 90, "toward": "up"}},
                {"leg": 300},
            ],
        },
    },
    "five hundred corners": {
        "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
        "joints": {},
        "route": {"points": stairs(500, 600.0)},
    },
}


@pytest.mark.parametrize("name", AWKWARD)
def test_no_text_of_an_awkward_run_touches_a_line_or_another_text(page: Page, name: str) -> None:
    spec = {
        "run": "x" * 40,
        "conduit": {"outside_diameter": 20.0},
        "former": {"centreline_radius": 73.0},
        "joints": "none",
        **AWKWARD[name],
    }
    planned = plan(spec)
    assert isinstance(planned, Plan)

    assert faults(page, drawings_of(planned, units=Units.INCH, dialect=Dialect.US)) == {}


# ---------------------------------------------------------------------------------------- the measure itself


def by_hand(inner: str) -> dict[str, str]:
    """A drawing of 200 by 100 px, with a figure from its middle on that takes about 33 by 17 px."""
    return {
        "by hand": f'<svg xmlns="{SVG}" viewBox="0 0 200 100" width="200" height="100" fill="none" '
        'font-family="Liberation Sans"><text x="100" y="50" font-size="15" fill="#000">1157</text>'
        f"{inner}</svg>"
    }


def test_the_measure_finds_nothing_wrong_with_what_keeps_clear(page: Page) -> None:
    clear = (
        '<line x1="2" y1="30" x2="198" y2="30" stroke="#000"/><path d="M90 90L98 40L98 60" stroke="#000"/>'
        '<circle cx="100" cy="80" r="15" stroke="#000"/><path d="M136 45L145 41L145 49Z" fill="#000"/>'
        '<text x="60" y="50" font-size="15" fill="#000">376</text>'
    )
    assert faults(page, by_hand(clear)) == {}


@pytest.mark.parametrize(
    ("inner", "told"),
    [
        ('<line x1="2" y1="45" x2="198" y2="45" stroke="#000"/>', "line"),
        ('<line x1="9" y1="30" x2="190" y2="30" stroke="#000" stroke-width="16"/>', "line  "),
        ('<path d="M50 1L120 60" stroke="#000"/>', "path"),
        ('<path d="M110 60L115 52L120 60Z" fill="#000"/>', "path  M110"),
        ('<circle cx="117" cy="45" r="30" stroke="#000" fill="#fff"/>', "circle"),
        ('<circle cx="100" cy="60" r="12" stroke="#000"/>', "circle  "),
        ('<rect x="90" y="20" width="60" height="50" fill="#fff"/>', "rect"),
        ('<text x="120" y="45" font-size="15" fill="#000">1018</text>', '"1018"'),
        ('<text x="170" y="90" font-size="15" fill="#000">1018</text>', '"1018" leaves the drawing'),
        ('<line x1="150" y1="90" x2="203" y2="90" stroke="#000"/>', "leaves the drawing"),
        ('<text x="20" y="90" font-size="10.5" fill="#000">roll</text>', "10.5 px"),
        ('<line x1="20" y1="90" x2="40" y2="90"/>', "is not shown"),
    ],
)
def test_the_measure_tells_what_is_wrong(page: Page, inner: str, told: str) -> None:
    found = faults(page, by_hand(inner))

    assert any(told in fault for fault in found["by hand"])


def test_the_measure_tells_when_a_figure_of_a_real_strip_is_moved_onto_its_line(page: Page) -> None:
    planned, units, dialect = random_run(5)
    whole = strip(planned, 1, units=units, dialect=dialect)
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(whole)
    figure = root.findall(f"{{{SVG}}}text")[-2]
    figure.set("y", str(float(figure.get("y", "0")) - 20.0))
    moved = ElementTree.tostring(root, encoding="unicode")

    assert faults(page, {"whole": whole}) == {}
    assert "touches" in faults(page, {"moved": moved})["moved"][0]


@pytest.mark.parametrize("bold", [False, True])
def test_the_table_of_widths_is_what_the_browser_measures(page: Page, bold: bool) -> None:
    page.set_content("<canvas></canvas>")
    measured = page.evaluate(
        """([font, characters]) => {
          const pen = document.querySelector('canvas').getContext('2d');
          pen.font = font;
          return characters.map(character => pen.measureText(character).width);
        }""",
        [f"{700 if bold else 400} 1000px 'Liberation Sans'", list(WIDTHS[bold])],
    )

    table = WIDTHS[bold].items()
    assert len(table) > 100
    assert {c: (w, got) for (c, w), got in zip(table, measured, strict=True) if abs(w - got) > 1.0} == {}


def test_a_line_of_text_stands_as_high_as_the_browser_measures(page: Page) -> None:
    page.set_content("<svg><text y='100' font-family='Liberation Sans' font-size='100'>1157 gj</text></svg>")
    top, bottom = page.evaluate(
        "() => { const box = document.querySelector('text').getBBox(); return [box.y, box.y + box.height] }"
    )

    assert 100.0 - top == pytest.approx(100.0 * ASCENT, abs=1.0)
    assert bottom - 100.0 == pytest.approx(100.0 * DESCENT, abs=1.0)
