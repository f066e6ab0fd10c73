"""The command line: `python -m bendcore plan RUN.json`, `draw`, `catalogue`, `schema`.

Exit codes: 0 planned; 2 cannot be planned (problems as JSON on standard error); 3 planned, with a stop
finding; 64 the command itself is off.
"""

import argparse
import errno
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import NoReturn, TextIO

from bendcore import catalogue, spec
from bendcore.errors import SpecProblem, Unreadable
from bendcore.planned import Bank, Plan
from bendcore.planner import plan
from bendcore.units import Units
from bendcore.words import Dialect

PLANNED, NO_PLAN, STOPPED, USAGE = 0, 2, 3, 64


class _Parser(argparse.ArgumentParser):
    """Usage errors leave by their own exit code, for 2 says that a run cannot be planned."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        self.exit(USAGE, f"{self.prog}: {message}\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs one command and returns its exit code."""
    told = _parser().parse_args(arguments)
    command: Callable[[argparse.Namespace], int] = told.command
    try:
        return command(told)
    except SpecProblem as problem:
        _write(sys.stderr, _json(problem.to_dict()))
        return NO_PLAN


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="bendcore", description="From a run of conduit as surveyed to exact marks.")
    commands = parser.add_subparsers(required=True, metavar="command")

    def add(name: str, command: Callable[[argparse.Namespace], int], what: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=what, description=what)
        sub.set_defaults(command=command)
        return sub

    planning = add("plan", _plan, "plan a run and write the plan as JSON")
    drawing = add("draw", _draw, "plan a run and write its drawings as SVG")
    for sub in (planning, drawing):
        sub.add_argument("run", metavar="RUN.json", help="the run by the contract; - reads standard input")
        sub.add_argument("--units", choices=[str(each) for each in Units], default="mm", help="of lengths")
        sub.add_argument(
            "--words", choices=[str(each) for each in Dialect], default="uk", help="of the trade"
        )
    drawing.add_argument("--out", type=Path, default=Path(), metavar="DIR", help="folder for them (made)")
    add("catalogue", _catalogue, "list the conduits of the catalogue as JSON, each with its source")
    add("schema", _schema, "write the contract's input as JSON Schema")
    return parser


def _read(told: argparse.Namespace) -> Plan | Bank:
    try:
        text = _standard_input() if told.run == "-" else Path(told.run).read_bytes()
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        why = error.strerror if isinstance(error, OSError) else error
        raise SpecProblem([Unreadable("", f"{told.run} cannot be read: {why}")]) from error
    return plan(spec.read_json(text))


def _standard_input() -> bytes:
    if sys.stdin is None:  # closed by whoever started the command
        raise OSError(errno.EBADF, "standard input is closed")
    return sys.stdin.buffer.read()


def _plan(told: argparse.Namespace) -> int:
    planned = _read(told)
    _write(sys.stdout, _json(planned.to_dict(Units(told.units), Dialect(told.words))))
    return STOPPED if planned.has_stop else PLANNED


def _draw(told: argparse.Namespace) -> int:
    planned = _read(told)
    stem = "run" if told.run == "-" else Path(told.run).stem
    written: list[Path] = []
    try:
        told.out.mkdir(parents=True, exist_ok=True)
        for name, picture in _drawings(planned, stem, Units(told.units), Dialect(told.words)):
            path = told.out / name
            path.write_text(picture, encoding="utf-8")
            written.append(path)
    except OSError as error:
        raise SpecProblem([Unreadable("", f"{told.out} cannot be written: {error.strerror}")]) from error
    finally:
        _write(sys.stdout, "".join(f"{path}\n" for path in written))
    return STOPPED if planned.has_stop else PLANNED


def _drawings(planned: Plan | Bank, stem: str, units: Units, dialect: Dialect) -> Iterator[tuple[str, str]]:
    from bendcore import drawing  # planning alone does without

    if isinstance(planned, Bank):
        for number, each in enumerate(planned.plans, start=1):
            yield from _drawings(each, f"{stem}-conduit-{number}", units, dialect)
        return
    yield f"{stem}-run.svg", drawing.run_isometric(planned, units=units, dialect=dialect)
    for stick in planned.sticks:
        number = stick.number
        yield f"{stem}-{number}-strip.svg", drawing.strip(planned, number, units=units, dialect=dialect)
        picture = drawing.stick_isometric(planned, number, units=units, dialect=dialect)
        yield f"{stem}-{number}-stick.svg", picture
        for bend in stick.bends:
            if bend.order is not None:
                picture = drawing.pose(planned, number, bend.number, units=units, dialect=dialect)
                yield f"{stem}-{number}-pose-{bend.order}.svg", picture


def _catalogue(told: argparse.Namespace) -> int:
    _write(sys.stdout, _json([asdict(row) for row in catalogue.conduits()]))
    return PLANNED


def _schema(told: argparse.Namespace) -> int:
    _write(sys.stdout, _json(spec.json_schema()))
    return PLANNED


def _json(value: object) -> str:
    return json.dumps(value, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _write(stream: TextIO, text: str) -> None:
    """Writes UTF-8 whatever the terminal speaks, for the contract's JSON is UTF-8.

    A reader that has left, as `| head` does, is no error; a full disk is, and is told in a line.
    """
    try:
        stream.buffer.write(text.encode("utf-8", "backslashreplace"))
        stream.flush()
    except OSError as error:
        # What is still buffered goes nowhere, or the interpreter would try it again on its way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if not isinstance(error, BrokenPipeError) and stream is not sys.stderr:
            problem = SpecProblem([Unreadable("", f"the answer cannot be written: {error.strerror}")])
            _write(sys.stderr, _json(problem.to_dict()))
            raise SystemExit(NO_PLAN) from error


if __name__ == "__main__":
    sys.exit(main())
