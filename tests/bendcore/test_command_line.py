"""The command line, `python -m bendcore plan|draw|catalogue|schema`: exit codes, what is written where."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from worked import LEAST, planned, points, refused, run, steps

from bendcore.__main__ import main

ROOT = Path(__file__).parents[2]

PLANNED, NO_PLAN, STOPPED, USAGE = 0, 2, 3, 64

OVERLAP = points([0, 0, 0], [0, 0, 50], [100, 0, 50], [100, 500, 50])
STOP = run(former={"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": -1130.0}})
OFFSET = steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
BANK = run(parallel={"count": 2, "spacing": 40, "toward": "left"})
STOPPED_BANK = run(parallel={"count": 2, "spacing": 40, "toward": "left", "corners": "concentric"})


def command(
    *arguments: str | Path,
    text: str | bytes = b"",
    environment: dict[str, str] | None = None,
    cwd: Path | None = None,
) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "bendcore", *map(str, arguments)],
        input=text.encode() if isinstance(text, str) else text,
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), **(environment or {})},
        cwd=cwd or ROOT,
        timeout=60,
        check=False,
    )


@pytest.fixture
def file(tmp_path: Path) -> Any:
    def written(spec: Any, name: str = "RUN.json") -> Path:
        path = tmp_path / name
        path.write_text(spec if isinstance(spec, str) else json.dumps(spec), encoding="utf-8")
        return path

    return written


def told_problems(done: subprocess.CompletedProcess[bytes]) -> dict[str, Any]:
    """What standard error says, which is one JSON object and nothing else."""
    answer: dict[str, Any] = json.loads(done.stderr)
    assert set(answer) == {"problem", "problems"}
    assert answer["problem"] == answer["problems"][0]
    return answer


# ------------------------------------------------------------------------------------------------------- plan


def test_a_plan_is_written_as_json_to_standard_output(file: Any) -> None:
    done = command("plan", file(LEAST))
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    assert json.loads(done.stdout) == planned(LEAST)
    assert done.stdout.endswith(b"}\n")


def test_a_hyphen_reads_standard_input() -> None:
    done = command("plan", "-", text=json.dumps(LEAST))
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    assert json.loads(done.stdout) == planned(LEAST)


def test_a_run_that_cannot_be_planned_exits_2_with_its_problems_on_standard_error(file: Any) -> None:
    done = command("plan", file(OVERLAP))
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    answer = told_problems(done)
    assert answer["problems"] == refused(OVERLAP)
    first, second = answer["problems"]
    assert {key: value for key, value in first.items() if key != "text"} == {
        "code": "overlap",
        "where": "route.points[1]",
        "leg": 1,
        "length_mm": 50.0,
        "need_mm": 73.0,
        "grow_mm": 23.0,
    }
    assert (second["leg"], second["grow_mm"]) == (2, 46.0)


def test_a_plan_with_a_stop_is_still_written_and_exits_3(file: Any) -> None:
    done = command("plan", file(STOP))
    assert (done.returncode, done.stderr) == (STOPPED, b"")
    plan = json.loads(done.stdout)
    assert plan["findings"][0]["level"] == "stop"
    assert len(plan["sticks"]) == 1


def test_a_plan_with_notes_and_warnings_exits_0(file: Any) -> None:
    done = command("plan", file({**OFFSET, "ends": {"start": {"kind": "spout"}}}))
    assert done.returncode == PLANNED
    assert {finding["level"] for finding in json.loads(done.stdout)["findings"]} == {"warn", "note"}


def test_a_bank_is_written_as_its_plans_and_any_stop_in_it_exits_3(file: Any) -> None:
    done = command("plan", file(BANK))
    assert done.returncode == PLANNED
    assert list(json.loads(done.stdout)) == ["plans"]
    assert len(json.loads(done.stdout)["plans"]) == 2
    done = command("plan", file(STOPPED_BANK))
    assert done.returncode == STOPPED
    assert len(json.loads(done.stdout)["plans"]) == 2


def test_findings_are_said_in_the_units_and_words_asked_for(file: Any) -> None:
    def finding(*options: str) -> str:
        (found,) = json.loads(command("plan", file(OFFSET), *options).stdout)["findings"]
        text: str = found["text"]
        return text

    # Exactly 24.999 and by the handbook 26.795 mm: 1 and 1 1/16 in.
    assert "double set" in finding()
    assert "27 mm" in finding()
    assert finding("--units", "mm", "--words", "uk") == finding()
    assert "1 1/16 in" in finding("--units", "in")
    assert "the offset" in finding("--words", "us")
    assert "27 mm" in finding("--words", "us")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (b"", "malformed-json"),
        (b"{", "malformed-json"),
        (b'{"run": "a", "run": "b"}', "malformed-json"),
        (b'{"run": NaN}', "malformed-json"),
        (b"\xff\xfe{\x00}\x00", "malformed-json"),
        (b"[" * 100_000, "malformed-json"),
        (b"[]", "wrong-type"),
        (b"{}", "missing-key"),
    ],
    ids=["empty", "cut off", "repeated key", "NaN", "UTF-16", "deep", "list", "nothing in it"],
)
def test_text_that_is_no_run_exits_2_with_its_problems(text: bytes, code: str) -> None:
    done = command("plan", "-", text=text)
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    assert told_problems(done)["problem"]["code"] == code


def test_a_file_that_is_not_there_exits_2_and_is_named(tmp_path: Path) -> None:
    done = command("plan", tmp_path / "nowhere.json")
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    problem = told_problems(done)["problem"]
    assert problem["code"] == "unreadable"
    assert "nowhere.json" in problem["text"]


def test_a_folder_is_no_run(tmp_path: Path) -> None:
    done = command("plan", tmp_path)
    assert done.returncode == NO_PLAN
    assert told_problems(done)["problem"]["code"] == "unreadable"


def test_a_byte_order_mark_is_none_of_the_run(tmp_path: Path) -> None:
    path = tmp_path / "RUN.json"
    path.write_bytes(b"\xef\xbb\xbf" + json.dumps(LEAST).encode())
    assert command("plan", path).returncode == PLANNED


# The JSON of a plan is UTF-8 (RFC 8259) wherever it is written, and a degree sign stands in its problems'
# texts.
PLAIN_TERMINAL = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""}


def test_a_plan_is_utf_8_whatever_the_terminal_speaks(file: Any) -> None:
    done = command("plan", file(run(run="Prüfraum 2 → 3")), environment=PLAIN_TERMINAL)
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    assert json.loads(done.stdout.decode())["run"] == "Prüfraum 2 → 3"


def test_problems_are_utf_8_whatever_the_terminal_speaks(file: Any) -> None:
    done = command("plan", file(OVERLAP), environment=PLAIN_TERMINAL)
    assert done.returncode == NO_PLAN
    assert json.loads(done.stderr.decode())["problems"] == refused(OVERLAP)


def test_a_key_that_no_terminal_can_show_is_refused_like_any_other() -> None:
    done = command("plan", "-", text=json.dumps({**LEAST, "\ud800": 1}))
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    assert told_problems(done)["problem"]["code"] == "unknown-key"


LONG = points(*[[500.0 * (n // 2), 0.0, 500.0 * ((n + 1) // 2)] for n in range(400)], joints="none")


def left_early(*arguments: str | Path, text: str = "", read: int) -> tuple[int, bytes, bytes]:
    """Exit code, what was read, and standard error, where the reader leaves after so many bytes."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "bendcore", *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        if not read:
            process.stdout.close()  # before anything can have been written
        process.stdin.write(text.encode())
        process.stdin.close()
        got = process.stdout.read(read) if read else b""
        process.stdout.close()
        errors = process.stderr.read()
        return process.wait(timeout=60), got, errors


def test_a_reader_that_leaves_early_is_no_error() -> None:
    # 20 bytes are far less than the 200 kB of the plan.
    code, got, said_there = left_early("plan", "-", text=json.dumps(LONG), read=20)
    assert got.startswith(b"{")
    assert (code, said_there) == (PLANNED, b"")


def test_a_reader_of_drawings_names_that_leaves_early_is_no_error(tmp_path: Path) -> None:
    code, _, said_there = left_early("draw", "-", "--out", tmp_path / "out", text=json.dumps(BANK), read=0)
    assert (code, said_there) == (PLANNED, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told_without_a_trace_of_the_program(file: Any) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "bendcore", "plan", file(LEAST)],
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            timeout=60,
            check=False,
        )
    assert done.returncode not in {PLANNED, STOPPED}
    assert b"Traceback" not in done.stderr
    assert b"space" in done.stderr


# ------------------------------------------------------------------------------------------------------ usage


def said(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    """Exit code, output and errors of a command that ends by itself, without another interpreter."""
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert isinstance(left.value.code, int)
    return (left.value.code, *capsys.readouterr())


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["bend"],
        ["plan"],
        ["plan", "a.json", "b.json"],
        ["plan", "a.json", "--units", "cm"],
        ["plan", "a.json", "--words", "de"],
        ["plan", "a.json", "--out", "b"],
        ["draw"],
        ["catalogue", "steel"],
        ["schema", "--units", "mm"],
    ],
    ids=lambda arguments: " ".join(arguments) or "nothing",
)
def test_a_command_that_is_off_exits_64_and_says_how_it_is_used(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = said(arguments, capsys)
    assert (code, out) == (USAGE, "")
    assert "usage: bendcore" in err


def test_the_exit_code_of_a_command_that_is_off_reaches_the_shell() -> None:
    done = command("plan")
    assert (done.returncode, done.stdout) == (USAGE, b"")
    assert b"usage: bendcore" in done.stderr


def test_wrong_units_or_words_are_told_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    for option, wrong, allowed in (("--units", "cm", ("mm", "in")), ("--words", "de", ("uk", "us"))):
        told = said(["plan", "a.json", option, wrong], capsys)[2].splitlines()[-1]
        assert wrong in told
        for word in allowed:
            assert f"'{word}'" in told or f" {word}" in told


@pytest.mark.parametrize("arguments", [["--help"], ["plan", "--help"], ["draw", "--help"]], ids=" ".join)
def test_help_is_no_error(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = said(arguments, capsys)
    assert (code, err) == (PLANNED, "")
    assert "usage: bendcore" in out


# --------------------------------------------------------------------------------------- catalogue and schema


def test_the_catalogue_is_a_list_of_conduits_each_with_its_source() -> None:
    done = command("catalogue")
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    rows = {row["id"]: row for row in json.loads(done.stdout)}
    assert {"steel-20-heavy", "emt-1/2", "imc-1", "rmc-1-1/4"} <= set(rows)
    assert all(row["source"] for row in rows.values())
    assert rows["emt-1/2"]["outside_diameter"] == pytest.approx(0.706 * 25.4)


def test_the_schema_is_one_json_object() -> None:
    done = command("schema")
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    assert json.loads(done.stdout)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


# ------------------------------------------------------------------------------------------------------- draw


POSES = ["RUN-1-pose-1.svg", "RUN-1-pose-2.svg"]
"""Of the two bends of the least run."""


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_drawings_are_written_into_the_folder_that_is_made_for_them(file: Any, tmp_path: Path) -> None:
    out = tmp_path / "cards" / "run 07"
    spec = points([0, 0, 0], [0, 0, 2000], [2500, 0, 2000], [2500, 900, 2000])
    done = command("draw", file(spec, "north wall.json"), "--out", out)
    assert (done.returncode, done.stderr) == (PLANNED, b"")
    assert len(planned(spec)["sticks"]) == 2
    assert names(out) == [
        "north wall-1-pose-1.svg",
        "north wall-1-stick.svg",
        "north wall-1-strip.svg",
        "north wall-2-pose-1.svg",
        "north wall-2-stick.svg",
        "north wall-2-strip.svg",
        "north wall-run.svg",
    ]
    assert sorted(done.stdout.decode().splitlines()) == [str(out / name) for name in names(out)]
    for path in out.iterdir():
        assert "<svg" in path.read_text(encoding="utf-8")


def test_without_a_folder_drawings_are_written_where_one_stands(file: Any, tmp_path: Path) -> None:
    here = tmp_path / "here"
    here.mkdir()
    assert command("draw", file(LEAST), cwd=here).returncode == PLANNED
    assert names(here) == [*POSES, "RUN-1-stick.svg", "RUN-1-strip.svg", "RUN-run.svg"]


def test_a_run_from_standard_input_is_drawn_under_the_name_run(tmp_path: Path) -> None:
    done = command("draw", "-", "--out", tmp_path, text=json.dumps(LEAST))
    assert done.returncode == PLANNED
    assert names(tmp_path) == [
        "run-1-pose-1.svg",
        "run-1-pose-2.svg",
        "run-1-stick.svg",
        "run-1-strip.svg",
        "run-run.svg",
    ]


def test_each_conduit_of_a_bank_is_drawn_under_its_number(file: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert command("draw", file(BANK), "--out", out).returncode == PLANNED
    assert names(out) == [
        f"RUN-conduit-{number}-{what}.svg"
        for number in (1, 2)
        for what in ("1-pose-1", "1-pose-2", "1-stick", "1-strip", "run")
    ]


def test_drawings_are_in_the_units_and_words_asked_for(file: Any, tmp_path: Path) -> None:
    spec = file(run(former={"centreline_radius": 73.0, "set_line": {"kind": "back"}}))
    for units, words in (("mm", "uk"), ("in", "us")):
        out = tmp_path / units
        assert command("draw", spec, "--out", out, "--units", units, "--words", words).returncode == PLANNED
    metric = (tmp_path / "mm" / "RUN-1-strip.svg").read_text(encoding="utf-8")
    inches = (tmp_path / "in" / "RUN-1-strip.svg").read_text(encoding="utf-8")
    # The first mark is 1210 mm from the datum end: 47.638 in, 47 5/8.
    assert "1210" in metric
    assert "1210" not in inches
    assert "47 5/8" in inches


def test_a_run_with_a_stop_is_drawn_and_exits_3(file: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert command("draw", file(STOP), "--out", out).returncode == STOPPED
    assert len(names(out)) == 5  # run, strip, stick and the pose of each bend


def test_a_refused_run_leaves_no_drawing_and_no_folder(file: Any, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = command("draw", file(OVERLAP), "--out", out)
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    assert told_problems(done)["problem"]["code"] == "overlap"
    assert not out.exists()


def test_a_folder_that_cannot_be_made_is_told(file: Any, tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    done = command("draw", file(LEAST), "--out", tmp_path / "taken")
    assert (done.returncode, done.stdout) == (NO_PLAN, b"")
    problem = told_problems(done)["problem"]
    assert problem["code"] == "unreadable"
    assert "taken" in problem["text"]
    assert (tmp_path / "taken").read_text(encoding="utf-8") == "a file"
