"""A survey from a file: told with row and column where it is wrong, imported whole or not at all."""

import io
import random
import uuid
from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import openpyxl
import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from factories import THREE_BENDS, FreshClient, House, leg, make_former, make_project, make_room, make_run
from hypothesis import given, settings
from hypothesis import strategies as st
from walls import state_of
from workbooks import MACRO_TYPE, formula, number, text, workbook, zipped

from bendcore.spec import EndKind, FittingKind
from bendcore.units import Units
from bendcore.words import Dialect
from services.core.errors import IllegalMove, Invalid, NotAllowed, NotFound, TooLarge
from services.core.models import Act
from services.projects import commands, queries, survey_files
from services.projects.models import Heading, Project, Room, Run, SurveyUpload
from services.projects.rules import FIELDS_OF, MEASURED, RunChange, checked_rows
from services.projects.survey import (
    MOST_LINES,
    MOST_PROBLEMS,
    MOST_RUNS,
    KnownFormer,
    Line,
    Survey,
    SurveyedRun,
    Table,
    check,
    columns,
    letter,
)
from services.projects.survey_lines import example

FORMER = KnownFormer(uuid.UUID(int=1), "Bench bender 2", "steel-20-heavy")
FORMERS = [
    FORMER,
    KnownFormer(uuid.UUID(int=2), "Bench bender 2", "steel-25-heavy"),
    KnownFormer(uuid.UUID(int=3), "Floor bender", "steel-20-heavy"),
]

HEAD = 'Room,Run,Bender,Conduit,"Length, mm",Measured from,Measured to,Then,Angle,Toward,"Rise, mm"'
"""Columns A to K of the files below."""

RUN_07 = """Plant room,07,Floor bender,,1210,face,back,bend,90,right,
,,,,600,back,face,end,,,
"""


def read(content: str | bytes, *, there: dict[str, list[str]] | None = None) -> Survey:
    """The survey that a file makes."""
    table = survey_files.read(content.encode() if isinstance(content, str) else content)
    return check(table, formers=FORMERS, there=there or {})


def told(survey: Survey) -> list[tuple[str, str]]:
    """Its problems."""
    return [(each.where, each.text) for each in survey.problems]


def refused(content: str | bytes) -> list[tuple[str, str]]:
    """What reading a file refuses, before anything of it is looked at as a survey."""
    with pytest.raises(Invalid) as caught:
        survey_files.read(content.encode() if isinstance(content, str) else content)
    return [(each.where, each.text) for each in caught.value.problems]


# ---------------------------------------------------------------- what a file makes


def test_a_file_of_several_rooms_and_runs_makes_them_in_its_order() -> None:
    survey = read(
        f"""{HEAD}
Plant room,07,Floor bender,,1210,face,back,bend,90,right,
,,,,600,back,face,end,,,
,08,Floor bender,,900,,,,,,
Churn hall,07,Bench bender 2,25 mm steel\\, heavy,450,,,,,,
""".replace("25 mm steel\\, heavy", '"25 mm steel, heavy"'),
        there={"Plant room": ["01"]},
    )
    assert told(survey) == []
    assert [(run.room, run.label, run.line) for run in survey.runs] == [
        ("Plant room", "07", 2), ("Plant room", "08", 4), ("Churn hall", "07", 5),
    ]  # fmt: skip
    assert survey.new_rooms == ("Churn hall",)
    assert [run.former.id.int for run in survey.runs] == [3, 3, 2]
    assert survey.runs[0].rows == checked_rows(
        [
            {"length_mm": 1210, "to": "back", "then": "bend", "angle_deg": 90, "toward": "right"},
            {"length_mm": 600, "then": "end"},
        ]
    )


def test_a_cell_left_empty_takes_what_a_run_sheet_takes() -> None:
    survey = read('Room,Run,Bender,Conduit,"Length, mm"\nA,1,Floor bender,,500\n,,,,600\n')
    first, last = survey.runs[0].rows
    assert (first["from"], first["to"], first["then"]) == ("face", "back", "bend")
    assert (last["from"], last["to"], last["then"]) == ("back", "face", "end")
    assert survey.runs[0].head["heading"] == "up"
    assert survey.runs[0].head["start_kind"] == "open"
    assert survey.runs[0].head["start_allowance_mm"] is None
    assert survey.runs[0].head["standoff_mm"] == 0.0


def test_an_empty_figure_and_a_question_mark_are_both_still_to_measure() -> None:
    survey = read(f"{HEAD}\nA,1,Floor bender,,?,,,bend,?,?,\n,,,,,,,bend,90,up,\n,,,,300,,,,,,\n")
    assert told(survey) == []
    assert survey.open_figures == 4  # length, angle and toward of the first row, length of the second
    assert [row["length_mm"] for row in survey.runs[0].rows] == [None, None, 300.0]


def test_a_run_may_have_no_rows_yet() -> None:
    survey = read(f"{HEAD}\nA,1,Floor bender,,,,,,,,\n")
    assert told(survey) == []
    assert survey.runs[0].rows == []


def test_a_line_without_a_row_tells_of_the_run_alone() -> None:
    survey = read(f"{HEAD}\nA,1,Floor bender,,,,,,,,\n,,,,500,,,,,,\n")
    assert [row["length_mm"] for row in survey.runs[0].rows] == [500.0]


def test_all_that_a_run_says_of_itself_is_read() -> None:
    survey = read(
        'Room,Run,From,To,Conduit,Bender,Sets off,Facing,"Off the wall, mm",Start,"Start past the face, mm",'
        'Finish,"Finish past the face, mm","Length, mm"\n'
        "A,1,DB-3,Pump,,Floor bender,left,south wall,23,spout,-12.5,locknuts and bushing,9,500\n"
    )
    assert told(survey) == []
    assert survey.runs[0].head == {
        "label": "1", "from_place": "DB-3", "to_place": "Pump", "heading": "left", "facing": "south wall",
        "standoff_mm": 23.0, "start_kind": "spout", "start_allowance_mm": -12.5,
        "finish_kind": "locknuts_and_female_bush", "finish_allowance_mm": 9.0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("bend", "bend"), ("BEND", "bend"), ("offset", "offset"), ("double set", "offset"),
        ("Saddle_set", "saddle_set"), ("bubble set", "saddle_set"), ("3-point saddle", "saddle_set"),
        ("saddle", "saddle_set"), ("kick", "kick"), ("set", "kick"), ("box offset", "box_set"),
        ("box set", "box_set"), ("fitting", "fitting"), ("end", "end"),
    ],
)  # fmt: skip
def test_what_follows_is_said_in_either_countrys_words(said: str, kind: str) -> None:
    then = next(each for each in columns() if each.name == "then")
    survey = read(f"{HEAD}\nA,1,Floor bender,,500,,,{said},,,\n")
    assert told(survey) == []
    assert survey.runs[0].rows[0]["then"] == kind
    assert set(then.words.values()) == set(FIELDS_OF)


def test_every_field_of_a_row_has_a_column_of_its_own() -> None:
    row = checked_rows([{}])[0]
    assert [each.name for each in columns() if not each.of_run] == list(row)
    headings = [each.heading(Units.MM).casefold() for each in columns()]
    assert len(set(headings)) == len(headings)


@pytest.mark.parametrize(
    ("typed", "millimetres"),
    [
        ("94 1/2", 2400.3),  # 94.5 x 25.4
        ("94.5", 2400.3),
        ('94 1/2"', 2400.3),
        ("7' 10 1/2\"", 2400.3),  # 84 + 10.5 = 94.5
        ("7ft 10-1/2in", 2400.3),
        ("7′ 10½″", 2400.3),
        ("0 1/2", 12.7),
        ("3/8", 9.525),
        ("2400.3 mm", 2400.3),
        ("8'", 2438.4),
    ],
)
def test_feet_and_inches_are_read_as_people_write_them(typed: str, millimetres: float) -> None:
    quoted = '"' + typed.replace('"', '""') + '"'
    survey = read(f'Room,Run,Bender,"Length, in"\nA,1,Floor bender,{quoted}\n')
    assert told(survey) == []
    assert survey.runs[0].rows[0]["length_mm"] == pytest.approx(millimetres, abs=1e-9)


def test_a_mark_of_inches_may_stand_without_quotes_about_it() -> None:
    survey = read("Room,Run,Bender,Length (in)\nA,1,Floor bender,7' 10 1/2\"\n")
    assert survey.runs[0].rows[0]["length_mm"] == pytest.approx(2400.3, abs=1e-9)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_text_in_utf_8_is_read_with_its_mark_and_without(mark: bytes) -> None:
    survey = read(mark + f"{HEAD}\nKüche – Süd,1,Floor bender,,500,,,,,,\n".encode())
    assert told(survey) == []
    assert survey.new_rooms == ("Küche – Süd",)


@pytest.mark.parametrize(("typed", "millimetres"), [("1210,5", 1210.5), ("0,375", 0.375), ("1210.5", 1210.5)])
def test_where_semicolons_part_the_cells_a_comma_parts_decimals(typed: str, millimetres: float) -> None:
    head = HEAD.replace('"Length, mm"', "Length (mm)").replace('"Rise, mm"', "Rise (mm)").replace(",", ";")
    survey = read(f"{head}\r\nA;1;Floor bender;;{typed};;;bend;22,5;up;\r\n")
    assert told(survey) == []
    row = survey.runs[0].rows[0]
    assert (row["length_mm"], row["angle_deg"]) == (millimetres, 22.5)


def test_a_sign_that_may_part_thousands_or_decimals_is_refused() -> None:
    for typed in ("1,210", "1.210", "12.500 mm"):
        survey = read(f"Room;Run;Bender;Length, mm\nA;1;Floor bender;{typed}\n")
        assert [where for where, _text in told(survey)] == ["row 2, column D"]
        assert "thousands or decimals" in told(survey)[0][1]


def test_notes_and_blank_lines_are_passed_over_and_counted_as_rows() -> None:
    survey = read(f"## as measured on Tuesday\n\n{HEAD}\n,,,,,\n## next\nA,1,Floor bender,,oops,,,,,,\n")
    assert [where for where, _text in told(survey)] == ["row 6, column E"]
    assert survey.notes == 2


# ---------------------------------------------------------------- every error, at its place

GOOD = ["Plant room", "07", "Floor bender", "", "1210", "face", "back", "bend", "90", "right", ""]


def with_cell(column: int, value: str) -> str:
    """A file of one run of two rows, with another value in one cell of its first row."""
    cells = [*GOOD]
    cells[column] = value
    line = ",".join('"' + each.replace('"', '""') + '"' for each in cells)
    return f"{HEAD}\n{line}\n,,,,600,,,end,,,\n"


@pytest.mark.parametrize(
    ("column", "value", "where", "text"),
    [
        (0, "", "row 2, column A", "Room is empty"),
        (0, "x" * 121, "row 2, column A", "at most 120"),
        (0, "a\u202eb", "row 2, column A", "cannot be printed"),
        (1, "", "row 2, column B", "Run is empty"),
        (1, "07/2", "row 2, column B", "has a /"),
        (1, "x" * 21, "row 2, column B", "at most 20"),
        (2, "No bender", "row 2, column C", "there are Bench bender 2 · 20 mm steel, heavy; "),
        (2, "", "row 2, column C", "Bender is empty, and so is Conduit"),
        (2, "Bench bender 2", "row 2, column D", "Conduit is empty, and several formers fit"),
        (3, "40 mm steel", "row 2, column D", "for which there is no former"),
        (4, "12oo", "row 2, column E", "Length is '12oo', which is no length; write it as 1210"),
        (4, "-1210", "row 2, column E", "below 0"),
        (4, "1,210", "row 2, column E", "no length"),
        (4, "1e3", "row 2, column E", "no length"),
        (4, "99999999", "row 2, column E", "beyond ten kilometres"),
        (4, "94 1/2", "row 2, column E", "fraction without its unit"),
        (5, "middle", "row 2, column F", "allowed are back, corner, inside, wall, face"),
        (6, "?", "row 2, column G", "allowed are back"),
        (7, "wiggle", "row 2, column H", "allowed are bend, offset, saddle set, kick, box set"),
        (7, "end", "row 2, column H", "the run ends here, but rows follow"),
        (8, "right", "row 2, column I", "write it as 90 or 22.5"),
        (8, "inf", "row 2, column I", "write it as 90 or 22.5"),
        (8, "٩٠", "row 2, column I", "write it as 90 or 22.5"),
        (8, "190", "row 2, column I", "a number is wanted"),
        (9, "north", "row 2, column J", "allowed are up, down, left, right, in, out"),
        (10, "60", "row 2, column K", "goes with offset"),
        (4, "x" * 1001, "row 2, column E", "at most 1000 are read"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_cell_is_told_by_row_and_column(
    column: int, value: str, where: str, text: str
) -> None:
    problems = told(read(with_cell(column, value)))
    assert any(at == where and text in said for at, said in problems), problems
    assert {at.partition(",")[0] for at, _said in problems} == {"row 2"}


def test_the_file_from_which_these_come_has_no_problem() -> None:
    assert told(read(with_cell(0, "Plant room"))) == []


@pytest.mark.parametrize(
    ("content", "where", "text"),
    [
        ("", "file", "The file is empty"),
        ("\n\n ,,\n", "file", "The file is empty"),
        (f"{HEAD}\n", "file", "headings and no rows"),
        ("Room,Run\nA,1\n", "row 1", "There is no column Length"),
        ('Room,Run,"Length, mm",Colour\nA,1,2,red\n', "row 1, column D", "'Colour', which is none"),
        ('Room,Run,"Length, mm",Run\nA,1,2,3\n', "row 1, column D", "Run stands a second time"),
        ("Room,Run,Length\nA,1,2\n", "row 1, column C", "says no unit; write 'Length, mm' or 'Length, in'"),
        ('Room,Run,"Length, cm"\nA,1,2\n', "row 1, column C", "says no unit"),
        ('Room,Run,"Length, mm","Rise, in"\nA,1,2,3\n', "row 1, column D", "name mm and in"),
        ('Room,"Run, mm","Length, mm"\nA,1,2\n', "row 1, column B", "Run has no unit"),
        ('Room,Run,Bender,"Length, mm"\nA,1,Floor bender,5,6\n', "row 2, column E", "under no heading"),
        (f"{HEAD}\n{RUN_07},08,Floor bender,,9,,,,,,\n,07,,,9,,,,,,\n", "row 5, column B",
         "stands in row 2 already"),
        (f"{HEAD}\n{RUN_07},,Bench bender 2,,9,,,,,,\n", "row 4, column C",
         "is 'Bench bender 2', and 'Floor bender' in row 2"),
        (f"{HEAD}\n{RUN_07}plant ROOM,08,Floor bender,,9,,,,,,\n", "row 4, column A", "write the two alike"),
        ('Room,Run,"Length, mm"\nA,"1,500\n', "row 2", "quotation mark"),
        ('Room,Run,"Length, mm"\nA,"1"x,500\n', "row 2", "quotation mark"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_the_table_is_told_at_its_place(content: str, where: str, text: str) -> None:
    try:
        problems = told(read(content))
    except Invalid as error:
        problems = [(each.where, each.text) for each in error.problems]
    assert any(at == where and text in said for at, said in problems), problems


def test_a_run_that_the_room_has_already_is_a_problem() -> None:
    survey = read(f"{HEAD}\n{RUN_07}", there={"Plant room": ["07"]})
    assert [where for where, _text in told(survey)] == ["row 2, column B"]
    assert told(read(f"{HEAD}\n{RUN_07}", there={"Plant room": ["08"], "Hall": ["07"]})) == []


def test_all_problems_are_told_at_once_in_the_order_of_the_file() -> None:
    survey = read(f"{HEAD}\nA,1,Floor bender,,x,,,bend,y,up,\n,,,,z,,,,,,\nB,2,none,,1,,,,,,\n")
    assert [where for where, _text in told(survey)] == [
        "row 2, column E", "row 2, column I", "row 3, column E", "row 4, column C",
    ]  # fmt: skip


def test_a_run_that_is_wrong_leaves_the_others_readable() -> None:
    survey = read(f"{HEAD}\n{RUN_07},08,Floor bender,,x,,,,,,\n")
    assert [run.label for run in survey.runs] == ["07"]
    assert survey.count == 1


def test_of_very_many_problems_the_first_are_told_and_all_are_counted() -> None:
    lines = "\n".join(f"A,{at},Floor bender,,x,,,,,," for at in range(450))
    survey = read(f"{HEAD}\n{lines}\n")
    assert len(survey.problems) == MOST_PROBLEMS
    assert survey.count == 450
    assert survey.told()[0].text == "The file has 450 problems; the first 200 are told"


def test_a_run_of_more_rows_than_a_run_may_have_is_told_where_it_begins() -> None:
    lines = "\n".join(",,,,10,,,,,," for _at in range(200))
    survey = read(f"{HEAD}\n{RUN_07}\n,08,Floor bender,,10,,,,,,\n{lines}\n")
    assert [where for where, _text in told(survey)] == ["row 5"]
    assert "201 rows" in told(survey)[0][1]


def test_the_bounds_are_those_that_are_told() -> None:
    most = "\n".join(f"A,{at // 100},Floor bender,,10,,,,,," for at in range(MOST_LINES))
    assert told(read(f"{HEAD}\n{most}\n")) == []
    assert told(read(f"{HEAD}\n{most}\nA,50,Floor bender,,10,,,,,,\n"))[0][1].startswith(
        "The file has 5001 rows"
    )
    many = "\n".join(f"A,{at},Floor bender,,10,,,,,," for at in range(MOST_RUNS))
    assert told(read(f"{HEAD}\n{many}\n")) == []
    assert told(read(f"{HEAD}\n{many}\nA,x,Floor bender,,10,,,,,,\n")) == [
        ("file", "The file has 501 runs; at most 500 are read at once")
    ]


def test_columns_are_named_as_a_spreadsheet_names_them() -> None:
    assert [letter(at) for at in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


# ---------------------------------------------------------------- workbooks


HEADINGS = [text(each) for each in ("Room", "Run", "Bender", "Length, mm", "Then", "Angle", "Toward")]


def a_workbook(*rows: Sequence[str | None], **more: Any) -> bytes:
    """A workbook of these rows under HEADINGS."""
    return workbook([HEADINGS, *rows], **more)


def test_text_and_figures_of_a_workbook_are_read() -> None:
    survey = read(
        a_workbook(
            [
                text("A"),
                number("7"),
                text("Floor bender"),
                number("1210.5"),
                text("bend"),
                number("90"),
                text("up"),
            ],
            [None, None, None, text("600")],
        )
    )
    assert told(survey) == []
    assert survey.runs[0].label == "7"
    assert [row["length_mm"] for row in survey.runs[0].rows] == [1210.5, 600.0]


def test_the_sheet_named_survey_is_read_and_without_one_the_first() -> None:
    content = a_workbook([text("A"), text("1"), text("Floor bender"), number("5")], names=("Notes", "survey"))
    assert told(read(content)) == []
    content = a_workbook([text("A"), text("1"), text("Floor bender"), number("5")], names=("Notes", "Rows"))
    assert told(read(content)) == [
        ("file", "The file is empty; its first row has the headings of the template")
    ]


def test_a_formula_counts_as_what_it_came_to_and_one_without_a_value_is_told() -> None:
    row = [text("A"), text("1"), text("Floor bender"), formula("600*2", "1200")]
    survey = read(a_workbook(row))
    assert survey.runs[0].rows[0]["length_mm"] == 1200.0
    row[0] = formula('CONCATENATE("A","B")', "AB", "str")
    assert read(a_workbook(row)).new_rooms == ("AB",)
    row[3] = formula("600*2")
    assert refused(a_workbook(row)) == [
        (
            "row 2, column D",
            "has a formula without a value; open the file, let it be worked out and save it, or write the "
            "figure",
        )
    ]


@pytest.mark.parametrize(
    ("cell", "problem"),
    [
        (number("46054", style=1), "has a date; a fraction such as 1/2 is typed into a cell"),
        (' s="1"><f>TODAY()</f><v>46054</v>', "has a date"),
        (' t="d"><v>2026-02-01</v>', "has a date"),
        (' t="b"><v>1</v>', "has true or false"),
        (' t="e"><v>#DIV/0!</v>', "has an error for a value, #DIV/0!"),
        (formula("1/0", "#DIV/0!", "e"), "has an error for a value, #DIV/0!"),
    ],
)
def test_a_cell_that_holds_neither_text_nor_a_figure_is_told(cell: str, problem: str) -> None:
    problems = refused(a_workbook([text("A"), text("1"), text("Floor bender"), cell]))
    assert [where for where, _text in problems] == ["row 2, column D"]
    assert problem in problems[0][1]


def test_what_begins_with_a_sign_of_a_formula_is_written_as_text_and_read_again() -> None:
    for label in ("=1+1", "+44", "@home", "-x", "'=x", "##7", "-12"):
        run = SurveyedRun("=cmd()", FORMER, 0, {**HEAD_OF_RUN, "label": label}, [])
        for make in (survey_files.csv_file, survey_files.xlsx_file):
            content = make([run], units=Units.MM, dialect=Dialect.UK, formers=FORMERS)
            survey = read(content)
            assert told(survey) == []
            assert (survey.runs[0].room, survey.runs[0].label) == ("=cmd()", label)
        assert b"\n'=cmd()," in survey_files.csv_file([run], units=Units.MM, dialect=Dialect.UK)
    book = openpyxl.load_workbook(
        io.BytesIO(survey_files.xlsx_file([run], units=Units.MM, dialect=Dialect.UK, formers=FORMERS))
    )
    assert {cell.data_type for sheet in book for row in sheet.iter_rows() for cell in row} <= {"s", "n"}


# ---------------------------------------------------------------- files that nobody should send


def test_other_encodings_and_other_files_are_refused_with_what_is_wanted() -> None:
    wanted = "The file is neither a workbook (XLSX) nor text in UTF-8; save it as XLSX or as CSV in UTF-8"
    for content in (
        f"{HEAD}\nKüche".encode("cp1252"),
        HEAD.encode("utf-16"),
        b"\x89PNG\r\n\x1a\n",
        b"%PDF-1.7\n\xe2\xe3\xcf\xd3",
    ):
        assert refused(content) == [("file", wanted)]
    assert "(NUL)" in refused("Room\0,Run")[0][1]
    assert "older kind, or has a password" in refused(b"\xd0\xcf\x11\xe0" + bytes(500))[0][1]


def test_a_file_is_judged_by_what_it_is() -> None:
    assert "packed, but no workbook" in refused(zipped({"word/document.xml": b"<a/>"}))[0][1]
    assert "no workbook that can be read" in refused(b"PK\x03\x04" + bytes(100))[0][1]


def test_macros_are_refused() -> None:
    row = [text("A"), text("1"), text("Floor bender"), number("5")]
    for content in (
        a_workbook(row, workbook_type=MACRO_TYPE),
        a_workbook(row, instead={"xl/vbaProject.bin": b"\xd0\xcf\x11\xe0"}),
    ):
        assert refused(content) == [("file", "The file has macros; save it as XLSX, without them")]


def test_a_workbook_that_unpacks_to_far_more_than_a_survey_is_refused_before_it_is_unpacked() -> None:
    bomb = a_workbook([], instead={"xl/media/a.bin": bytes(40_000_000)})
    assert len(bomb) < survey_files.MOST_BYTES
    assert "unpacks to more than" in refused(bomb)[0][1]
    many = a_workbook([], instead={f"xl/media/{at}.bin": b"" for at in range(200)})
    assert "parts" in refused(many)[0][1]


def test_a_directory_that_lies_about_a_size_gains_nothing() -> None:
    content = bytearray(a_workbook([], instead={"xl/media/a.bin": bytes(40_000_000)}))
    size = (40_000_000).to_bytes(4, "little")
    assert content.count(size) >= 1
    assert "no workbook that can be read" in refused(bytes(content.replace(size, b"\x10\0\0\0")))[0][1]


@pytest.mark.parametrize(
    "rows",
    [
        "<row/>" * 900_000,
        "<row>" + "<c/>" * 900_000 + "</row>",
        "<row>" + "<c><v>1</v></c>" * 300_000 + "</row>",
    ],
    ids=["rows", "cells", "figures"],
)
def test_more_cells_than_a_survey_has_are_refused_by_their_count(rows: str) -> None:
    assert "more cells than a survey has" in refused(workbook(rows))[0][1]


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        ('<row r="1048576"><c r="A1048576"><v>1</v></c></row>', "goes on below row 20000"),
        ('<row r="99999999999999"/>', "goes on below row 20000"),
        ('<row r="-5"><c r="A1"><v>1</v></c></row>', "no workbook that can be read"),
        ('<row r="3"><c r="A3"><v>1</v></c></row><row r="2"/>', "no workbook that can be read"),
        ("<row/>" * 20_001, "goes on below row 20000"),
        ('<row r="1"><c r="XFD1"><v>1</v></c></row>', "right of column 100 in row 1"),
        ('<row r="1"><c r="ZZZZZZZZ1"><v>1</v></c></row>', "no workbook that can be read"),
        ('<row r="1"><c r="A1" t="s"><v>99</v></c></row>', "no workbook that can be read"),
        ('<row r="1"><c r="A1" s="99999"><v>x</v></c></row>', "no workbook that can be read"),
        ("<row r='1'>" + "<c>" * 60_000 + "</c>" * 60_000 + "</row>", "The file is empty"),
    ],
)  # fmt: skip
def test_sheets_that_lie_about_their_place_are_answered(rows: str, problem: str) -> None:
    try:
        problems = told(read(workbook(rows)))
    except Invalid as error:
        problems = [(each.where, each.text) for each in error.problems]
    assert problem in problems[0][1]


@pytest.mark.parametrize(
    "head",
    [
        '<!DOCTYPE a [<!ENTITY a "x"><!ENTITY b "&a;&a;&a;">]>',
        '<!DOCTYPE a [<!ENTITY a SYSTEM "file:///etc/hostname">]>',
    ],
)
def test_entities_are_refused(head: str) -> None:
    cell = ' t="inlineStr"><is><t>&a;</t></is>'
    content = a_workbook([cell, text("1"), text("Floor bender"), number("5")], head=head)
    assert "no workbook that can be read" in refused(content)[0][1]


def test_a_workbook_that_names_one_sheet_very_often_is_answered_in_no_time() -> None:
    names = "".join(f'<sheet name="n{at}" sheetId="{at + 1}" r:id="rId1"/>' for at in range(50_000))
    book = (
        '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r='
        '"http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets>'
        f"{names}</sheets></workbook>"
    )
    row = [text("A"), text("1"), text("Floor bender"), number("5")]
    assert told(read(a_workbook(row, instead={"xl/workbook.xml": book.encode()}))) == []


@pytest.mark.parametrize("seed", range(4))
def test_a_spoilt_file_is_read_or_refused_and_nothing_else(seed: int) -> None:
    chance = random.Random(seed)
    whole = [
        make(example(FORMER, Units.INCH), units=Units.INCH, dialect=Dialect.US, formers=FORMERS)
        for make in (survey_files.csv_file, survey_files.xlsx_file)
    ]
    for _time in range(60):
        content = bytearray(chance.choice(whole))
        for _spot in range(chance.randrange(1, 12)):
            at = chance.randrange(len(content))
            what = chance.randrange(3)
            if what == 0:
                content[at] = chance.randrange(256)
            elif what == 1:
                del content[at : at + chance.randrange(1, 40)]
            else:
                content[at:at] = bytes(chance.randrange(256) for _each in range(chance.randrange(1, 9)))
        try:
            survey = read(bytes(content))
        except (Invalid, TooLarge):
            continue
        assert survey.problems or survey.runs


def test_a_larger_file_than_is_read_is_refused_unread() -> None:
    with pytest.raises(TooLarge, match="at most 2000000 are read"):
        survey_files.read(b"x" * 2_000_001)


# ---------------------------------------------------------------- written, and read again

HEAD_OF_RUN: RunChange = {
    "label": "07", "from_place": "", "to_place": "", "heading": "up", "standoff_mm": 0.0,
    "start_kind": "open", "start_allowance_mm": None, "finish_kind": "open", "finish_allowance_mm": None,
    "facing": "",
}  # fmt: skip

LENGTHS = st.one_of(
    st.integers(1, 200_000).map(lambda parts: parts * 25.4 / 64),
    st.integers(1, 40_000).map(float),
    st.floats(0.001, 9_000, allow_nan=False).map(lambda length: round(length, 6)),
)
TEXTS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), max_size=12).filter(
    lambda said: said != "?"
)


@st.composite
def rows(draw: st.DrawFn) -> list[Any]:
    """Rows as they are kept: of every kind, measured, in part, or not at all."""
    made: list[dict[str, Any]] = []
    kinds = draw(st.lists(st.sampled_from([each for each in FIELDS_OF if each != "end"]), max_size=6))
    if draw(st.booleans()):
        kinds.append("end")
    for kind in kinds:
        row: dict[str, Any] = {
            "length_mm": draw(st.none() | LENGTHS),
            "from": draw(st.sampled_from(MEASURED)),
            "to": draw(st.sampled_from(MEASURED)),
            "then": kind,
        }
        for name in FIELDS_OF[kind]:
            row[name] = draw(st.none() | field(name))
        if row.get("bends") == 3:
            row["width_mm"] = None
        made.append(row)
    return checked_rows(made)


def field(name: str) -> st.SearchStrategy[Any]:
    """A value of a row's field."""
    if name.endswith("toward"):
        return st.sampled_from(Heading.values)
    if name == "angle_deg":
        return st.sampled_from([90, 45, 30, 22.5, 60, 10.0625, 12.3456789]).filter(lambda angle: angle < 90)
    if name == "bends":
        return st.sampled_from([3, 4])
    if name == "fitting":
        return st.sampled_from(list(FittingKind))
    return LENGTHS


@st.composite
def runs(draw: st.DrawFn) -> list[SurveyedRun]:
    """Runs of a few rooms."""
    made = []
    for room in draw(
        st.lists(st.sampled_from(["Plant room", "Churn hall", "=Lift"]), unique=True, min_size=1)
    ):
        for label in draw(st.lists(st.sampled_from(["07", "8", "P-2", "1E5"]), unique=True, min_size=1)):
            allowance = st.none() | st.floats(-900, 900).map(lambda length: round(length, 4) + 0.0)
            head: RunChange = {
                "label": label,
                "from_place": draw(TEXTS),
                "to_place": draw(TEXTS),
                "heading": draw(st.sampled_from(Heading.values)),
                "standoff_mm": draw(st.floats(-900, 900).map(lambda length: round(length, 4) + 0.0)),
                "start_kind": draw(st.sampled_from(list(EndKind))),
                "start_allowance_mm": draw(allowance),
                "finish_kind": draw(st.sampled_from(list(EndKind))),
                "finish_allowance_mm": draw(allowance),
                "facing": draw(TEXTS),
            }
            former = draw(st.sampled_from(FORMERS))
            made.append(SurveyedRun(room, former, 0, head, draw(rows())))
    return made


def comes_back(make: Any, asked: list[SurveyedRun], units: Units, dialect: Dialect) -> None:
    """Asserts that runs that are written and read again are the same."""
    survey = read(make(asked, units=units, dialect=dialect, formers=FORMERS))
    assert told(survey) == []
    assert [(run.room, run.former, run.head) for run in survey.runs] == [
        (run.room, run.former, run.head) for run in asked
    ]
    assert [run.rows for run in survey.runs] == [run.rows for run in asked]


@settings(max_examples=150, deadline=None)
@given(asked=runs(), units=st.sampled_from(Units), dialect=st.sampled_from(Dialect))
def test_runs_that_are_written_as_text_and_read_again_are_the_same(
    asked: list[SurveyedRun], units: Units, dialect: Dialect
) -> None:
    comes_back(survey_files.csv_file, asked, units, dialect)


@settings(max_examples=20, deadline=None)
@given(asked=runs(), units=st.sampled_from(Units), dialect=st.sampled_from(Dialect))
def test_runs_that_are_written_as_a_workbook_and_read_again_are_the_same(
    asked: list[SurveyedRun], units: Units, dialect: Dialect
) -> None:
    comes_back(survey_files.xlsx_file, asked, units, dialect)


def test_a_figure_that_a_spreadsheet_would_change_is_written_as_text() -> None:
    rows_of_one = checked_rows(
        [{"length_mm": 1.1906249999999998, "then": "bend", "angle_deg": 12.345678901234567}]
    )
    comes_back(
        survey_files.xlsx_file, [SurveyedRun("A", FORMER, 0, HEAD_OF_RUN, rows_of_one)], Units.MM, Dialect.UK
    )


@pytest.mark.parametrize("make", [survey_files.csv_file, survey_files.xlsx_file])
@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("dialect", Dialect)
def test_a_template_is_filled_in_and_read(make: Any, units: Units, dialect: Dialect) -> None:
    empty = make(None, units=units, dialect=dialect, formers=FORMERS)
    assert told(read(empty)) == [("file", "The file has headings and no rows under them")]
    if make is survey_files.csv_file:
        lines = empty.decode("utf-8-sig").splitlines(keepends=True)
        shown = "".join(line.removeprefix("## ") for line in lines if line.startswith("## Plant room"))
        filled = (lines[-1] + shown).encode()
    else:
        book = openpyxl.load_workbook(io.BytesIO(empty))
        assert book.sheetnames == ["Survey", "How to fill it in", "Example"]
        for row in book["Example"].iter_rows(min_row=2):
            for cell in row:
                if cell.value is not None:
                    book["Survey"][cell.coordinate].value = cell.value
        out = io.BytesIO()
        book.save(out)
        filled = out.getvalue()
    survey = read(filled)
    assert told(survey) == []
    assert survey.open_figures == 2
    assert [run.rows for run in survey.runs] == [run.rows for run in example(FORMER, units)]
    if units is Units.INCH:
        assert survey.runs[0].rows[0]["length_mm"] == pytest.approx(47.625 * 25.4)


def test_a_template_says_what_goes_into_each_column() -> None:
    book = openpyxl.load_workbook(
        io.BytesIO(survey_files.xlsx_file(None, units=Units.INCH, dialect=Dialect.US, formers=FORMERS))
    )
    told_of = {str(row[0].value): str(row[1].value) for row in book["How to fill it in"].iter_rows()}
    for column in columns():
        assert len(told_of[column.heading(Units.INCH)]) > 5
    assert "bend, offset, saddle set, kick, box offset" in told_of["Then"]
    assert told_of["Floor bender"] == "20 mm steel, heavy"
    assert book["Survey"]["B2"].number_format == "@"


def test_a_table_is_kept_and_comes_back() -> None:
    table = Table((Line(1, ("Room", "")), Line(4, ())), decimal_comma=True, notes=2)
    assert Table.from_json(table.to_json()) == table


# ---------------------------------------------------------------- the import

FILE = f"""{HEAD}
Plate room,07,,,1210,face,back,bend,90,right,
,,,,?,back,face,end,,,
New hall,01,,,900,,,,,,
"""
"""The house has one former, so its conduit alone names it."""


def a_file(conduit: str = "steel-20-heavy") -> bytes:
    """FILE with its former named."""
    return FILE.replace("07,,,", f"07,,{conduit},").replace("01,,,", f"01,,{conduit},").encode()


def table() -> Table:
    """Of `a_file`."""
    return survey_files.read(a_file())


def test_an_import_makes_rooms_runs_and_rows_and_says_who_did_it(scoped: House) -> None:
    make_former(scoped)
    room = make_room(scoped)
    made = commands.import_survey(actor=scoped.foreman, project_id=room.project_id, table=table())
    assert [(run.room.name, run.label, run.version) for run in made] == [
        ("Plate room", "07", 1), ("New hall", "01", 1),
    ]  # fmt: skip
    assert made[0].room_id == room.pk
    kept = Run.objects.get(pk=made[0].pk)
    assert kept.rows == checked_rows(
        [
            leg(1210, **{"from": "face", "to": "back", "then": "bend", "angle_deg": 90, "toward": "right"}),
            leg(None, **{"from": "back", "to": "face", "then": "end"}),
        ]
    )
    acts = list(Act.objects.filter(subject_id__in=[run.pk for run in made]).values_list("act", "person_id"))
    assert acts == [("run created", scoped.foreman.person_id)] * 2
    assert Act.objects.get(act="survey imported").figures == {"rooms": ["New hall"], "runs": 2, "rows": 3}


def test_an_import_is_done_whole_or_not_at_all(house: House) -> None:
    with house.scope():
        make_former(house)
        room = make_room(house)
        make_run(house, room, label="07", former=make_former(house, conduit="steel-25-heavy"))
    before = state_of(house)
    with house.scope(), pytest.raises(Invalid) as caught:
        commands.import_survey(actor=house.foreman, project_id=room.project_id, table=table())
    assert [each.where for each in caught.value.problems] == ["row 2, column B"]
    assert state_of(house) == before


def test_a_run_that_somebody_makes_between_look_and_write_leaves_nothing_behind(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    with house.scope():
        make_former(house)
        room = make_room(house)
    before = state_of(house)
    with house.scope():
        sound = queries.checked_survey(room.project_id, table())
        twice = Survey(runs=(*sound.runs, sound.runs[0]), new_rooms=sound.new_rooms)
        monkeypatch.setattr(queries, "checked_survey", lambda *_told: twice)
        with pytest.raises(Invalid, match="there is a run 07 in this room already"):
            commands.import_survey(actor=house.foreman, project_id=room.project_id, table=table())
    assert state_of(house) == before


def test_a_kept_survey_is_imported_once(scoped: House) -> None:
    make_former(scoped)
    project = make_project(scoped)
    upload = commands.keep_survey(
        actor=scoped.foreman, project_id=project.pk, file_name="a\u202e.csv", table=table()
    )
    assert upload.file_name == "a.csv"
    assert not Run.objects.exists()
    assert len(commands.import_kept_survey(actor=scoped.foreman, upload_id=upload.pk)) == 2
    with pytest.raises(IllegalMove, match="imported already"):
        commands.import_kept_survey(actor=scoped.foreman, upload_id=upload.pk)
    assert Run.objects.count() == 2


def test_a_kept_survey_is_checked_anew_when_it_is_imported(scoped: House) -> None:
    former = make_former(scoped)
    project = make_project(scoped)
    upload = commands.keep_survey(
        actor=scoped.foreman, project_id=project.pk, file_name="a.csv", table=table()
    )
    room = make_room(scoped, project, "New hall")
    make_run(scoped, room, label="01", former=former)
    with pytest.raises(Invalid):
        commands.import_kept_survey(actor=scoped.foreman, upload_id=upload.pk)
    upload.refresh_from_db()
    assert upload.imported_at is None
    assert Run.objects.count() == 1


def test_a_kept_survey_waits_a_day_and_then_goes(scoped: House) -> None:
    make_former(scoped)
    project = make_project(scoped)
    keep = {"actor": scoped.foreman, "project_id": project.pk, "file_name": "", "table": table()}
    with time_machine.travel("2026-11-25T10:00:00Z", tick=False) as clock:
        old = commands.keep_survey(**keep)
        clock.shift(timedelta(hours=23, minutes=59))
        assert queries.survey_upload(old.pk) == old
        clock.shift(timedelta(minutes=1))
        with pytest.raises(NotFound):
            commands.import_kept_survey(actor=scoped.foreman, upload_id=old.pk)
        new = commands.keep_survey(**keep)
    assert list(SurveyUpload.objects.values_list("pk", flat=True)) == [new.pk]


def test_only_who_surveys_imports_and_not_into_an_archived_project(scoped: House) -> None:
    make_former(scoped)
    project = make_project(scoped)
    for actor in (scoped.electrician, scoped.manager, scoped.administrator):
        with pytest.raises(NotAllowed):
            commands.import_survey(actor=actor, project_id=project.pk, table=table())
        with pytest.raises(NotAllowed):
            commands.keep_survey(actor=actor, project_id=project.pk, file_name="", table=table())
    commands.archive_project(actor=scoped.foreman, project_id=project.pk, seen=project.version)
    with pytest.raises(IllegalMove, match="archived"):
        commands.import_survey(actor=scoped.foreman, project_id=project.pk, table=table())


def test_a_survey_is_looked_at_with_three_queries_whatever_its_size(
    scoped: House, django_assert_num_queries: Any
) -> None:
    former = make_former(scoped)
    room = make_room(scoped)
    with django_assert_num_queries(3):
        queries.checked_survey(room.project_id, table())
    for label in range(20):
        make_run(scoped, room, label=f"x{label}", former=former)
    big = "\n".join(f"Plate room,{at},,steel-20-heavy,10,,,,,," for at in range(200))
    with django_assert_num_queries(3):
        assert (
            len(queries.checked_survey(room.project_id, survey_files.read(f"{HEAD}\n{big}".encode())).runs)
            == 200
        )


@pytest.mark.parametrize("kind", survey_files.KINDS)
@pytest.mark.parametrize("units", Units)
def test_the_runs_of_a_project_go_out_and_come_in_again_elsewhere(
    scoped: House, kind: str, units: Units
) -> None:
    former = make_former(scoped)
    room = make_room(scoped)
    run = make_run(scoped, room, former=former)
    commands.change_run(
        actor=scoped.foreman, run_id=run.pk, seen=run.version, facing="west wall", heading="left",
        start_kind="spout", start_allowance_mm=-3.175, standoff_mm=19.05,
    )  # fmt: skip
    make_run(scoped, room, label="08", former=former, rows=[leg(None), leg(640.25, then="end")])
    file = queries.survey_file(room.project_id, with_runs=True, kind=kind, units=units, dialect=Dialect.UK)
    elsewhere = make_project(scoped, code="FC-2")
    made = commands.import_survey(
        actor=scoped.foreman, project_id=elsewhere.pk, table=survey_files.read(file.content)
    )
    columns_kept = (
        "label", "rows", "facing", "heading", "start_kind", "start_allowance_mm", "standoff_mm",
        "finish_kind", "finish_allowance_mm", "former_id", "from_place", "to_place",
    )  # fmt: skip
    first, again = (
        list(Run.objects.filter(room__project_id=each).order_by("label").values_list(*columns_kept))
        for each in (room.project_id, elsewhere.pk)
    )
    assert len(made) == 2
    assert first == again


# ---------------------------------------------------------------- over the API


def send(client: FreshClient, project: Project, content: bytes, **told_too: str) -> Any:
    """Posts a file to the API."""
    return client.post(
        f"/api/v1/projects/{project.pk}/survey", {"file": SimpleUploadedFile("s.csv", content), **told_too}
    )


@pytest.fixture
def project(house: House) -> Project:
    """A project with a room and a former."""
    with house.scope():
        make_former(house)
        return make_room(house).project


def test_the_api_says_what_a_file_would_make_and_makes_it(house: House, project: Project) -> None:
    client = house.client("foreman")
    answer = send(client, project, a_file(), dry_run="true")
    assert answer.status_code == 200, answer.content
    assert answer.json() == {
        "imported": False,
        "units": "mm",
        "new_rooms": ["New hall"],
        "rows": 3,
        "to_measure": 1,
        "notes": 0,
        "runs": [
            {"id": None, "room": "Plate room", "label": "07", "rows": 2, "to_measure": 1},
            {"id": None, "room": "New hall", "label": "01", "rows": 1, "to_measure": 0},
        ],
    }
    with house.scope():
        assert not Run.objects.exists()
    answer = send(client, project, a_file())
    assert answer.status_code == 201
    assert answer.json()["imported"] is True
    run = client.get(f"/api/v1/runs/{answer.json()['runs'][0]['id']}").json()
    assert run["rows"][0]["length_mm"] == 1210.0


@pytest.mark.parametrize("dry_run", ["true", "false"])
def test_the_api_tells_every_problem_with_its_place(house: House, project: Project, dry_run: str) -> None:
    client = house.client("foreman")
    before = state_of(house)
    content = a_file().replace(b"1210", b"12oo").replace(b"900", b"9oo")
    answer = send(client, project, content, dry_run=dry_run)
    assert answer.status_code == 422
    assert answer["Content-Type"] == "application/problem+json"
    assert [each["where"] for each in answer.json()["problems"]] == ["row 2, column E", "row 4, column E"]
    assert state_of(house) == before


def test_the_api_refuses_what_is_no_file_of_a_survey(house: House, project: Project) -> None:
    client = house.client("foreman")
    address = f"/api/v1/projects/{project.pk}/survey"
    assert client.post(address, {}, content_type="application/json").status_code == 415
    assert client.post(address, {}).status_code == 400
    assert client.post(address, {"file": "text"}).status_code == 400
    for more in ({"dry_run": "perhaps"}, {"stranger": "1"}):
        answer = send(client, project, a_file(), **more)
        assert answer.status_code == 400
        assert [each["where"] for each in answer.json()["problems"]] == list(more)
    assert send(client, project, b"").status_code == 422
    assert send(client, project, b"\xff\xfe").status_code == 422
    assert send(client, project, b"x" * 2_000_001).status_code == 413
    assert send(client, project, b"x" * 2_300_000).status_code == 413
    with house.scope():
        assert not Run.objects.exists()


@pytest.mark.parametrize("kind", survey_files.KINDS)
def test_the_api_hands_out_template_and_runs(house: House, project: Project, kind: str) -> None:
    client = house.client("foreman")
    address = f"/api/v1/projects/{project.pk}/survey?kind={kind}"
    empty = client.get(address, headers={"Accept": "text/csv"})
    assert empty.status_code == 200
    assert empty["Content-Disposition"] == f'attachment; filename="survey-template-mm.{kind}"'
    assert "no rows under them" in told(read(empty.content))[0][1]
    send(client, project, a_file())
    again = client.get(f"{address}&what=runs&units=in")
    assert again["Content-Disposition"] == f'attachment; filename="survey-fc-1-in.{kind}"'
    assert len(survey_files.read(again.content).lines) == 4
    assert client.get(f"{address}&units=ell").status_code == 400


# ---------------------------------------------------------------- on the pages


def test_a_file_is_read_shown_and_imported(house: House, project: Project) -> None:
    client = house.client("foreman")
    page = client.get(f"/projects/{project.pk}/survey/")
    assert page.status_code == 200
    assert b"What goes into the columns" in page.content
    read_it = client.post(
        f"/projects/{project.pk}/survey/", {"file": SimpleUploadedFile("north wing.csv", a_file())}
    )
    assert read_it.status_code == 302
    preview = client.get(read_it["Location"])
    shown = preview.content.decode()
    for said in ("north wing.csv", "2 runs", "3 rows", "1 new room", "1 figure to measure", "Import 2 runs"):
        assert said in shown
    with house.scope():
        assert not Run.objects.exists()
    done = client.post(read_it["Location"])
    assert (done.status_code, done["Location"]) == (302, f"/projects/{project.pk}/")
    with house.scope():
        assert Run.objects.count() == 2
    twice = client.post(read_it["Location"])
    assert twice.status_code == 302
    with house.scope():
        assert Run.objects.count() == 2
    assert client.get(read_it["Location"]).status_code == 302


def test_a_file_with_problems_is_kept_by_nobody(house: House, project: Project) -> None:
    client = house.client("foreman")
    before = state_of(house)
    answer = client.post(
        f"/projects/{project.pk}/survey/",
        {"file": SimpleUploadedFile("<b>.csv", a_file().replace(b"1210", b"12oo"))},
    )
    assert answer.status_code == 422
    shown = answer.content.decode()
    for said in ("1 problem, and nothing was imported", "Row 2, column E", "12oo", "1 run is without one"):
        assert said in shown
    assert "<b>.csv" not in shown
    assert "&lt;b&gt;.csv" in shown
    assert state_of(house) == before
    assert client.post(f"/projects/{project.pk}/survey/", {}).status_code == 422


def test_a_survey_that_became_wrong_meanwhile_is_told_and_not_imported(
    house: House, project: Project
) -> None:
    client = house.client("foreman")
    address = client.post(f"/projects/{project.pk}/survey/", {"file": SimpleUploadedFile("s.csv", a_file())})[
        "Location"
    ]
    with house.scope():
        make_run(
            house, Room.objects.get(name="Plate room"), label="07",
            former=make_former(house, conduit="steel-25-heavy"), rows=THREE_BENDS,
        )  # fmt: skip
    for answer in (client.get(address), client.post(address)):
        assert answer.status_code == 422
        assert b"a run that the room has already" in answer.content
    with house.scope():
        assert Run.objects.count() == 1


def test_a_request_larger_than_a_file_may_be_is_refused(house: House, project: Project) -> None:
    client = house.client("foreman")
    answer = client.post(
        f"/projects/{project.pk}/survey/", {"file": SimpleUploadedFile("s.csv", b"x" * 2_300_000)}
    )
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "query", ["", "?kind=csv", "?kind=csv&units=in", "?what=runs", "?units=ell&kind=zip"]
)
def test_the_page_hands_out_files_whatever_is_asked(house: House, project: Project, query: str) -> None:
    answer = house.client("foreman").get(f"/projects/{project.pk}/survey/file/{query}")
    assert answer.status_code == 200
    assert answer["Content-Disposition"].startswith('attachment; filename="survey-')
    assert survey_files.read(answer.content).lines


@pytest.mark.slow
def test_the_largest_survey_is_imported_in_one_request(house: House, project: Project) -> None:
    lines = "\n".join(
        f"Hall {at // 1000},{at // 10},,steel-20-heavy,{100 + at},,,"
        + ("end,,," if at % 10 == 9 else "bend,90,up,")
        for at in range(MOST_LINES)
    )
    answer = send(house.client("foreman"), project, f"{HEAD}\n{lines}\n".encode())
    assert answer.status_code == 201, answer.content[:500]
    assert len(answer.json()["runs"]) == 500
