"""The guide to the API: its program runs as it stands there."""

import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from factories import PASSWORD, House, make_former

from services.planning.models import Plan
from services.projects.models import Project

GUIDE = Path(__file__).parents[2] / "docs" / "api.md"
PATIENCE_S = 120


@pytest.mark.django_db(transaction=True)
def test_the_program_of_the_guide_works(house: House, live_server: Any, tmp_path: Path) -> None:
    (program,) = re.findall(
        r"^```python\n(.+?)^```$", GUIDE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL
    )
    with house.scope():
        make_former(house)
    (tmp_path / "program.py").write_text(program, encoding="utf-8")
    told = subprocess.run(
        [sys.executable, "-I", "-W", "error", "program.py"],
        cwd=tmp_path,
        env={
            "PATH": os.environ["PATH"],
            "STICKBOOK_ADDRESS": live_server.url,
            "STICKBOOK_EMAIL": house.people["foreman"].email,
            "STICKBOOK_PASSWORD": PASSWORD,
        },
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert told.returncode == 0, told.stderr
    *_findings, stick, refused = told.stdout.splitlines()
    assert re.fullmatch(r"31/1: cut 2[34]\d\d\.\d mm", stick)
    assert refused == "refused as it should be: stale-version"
    with house.scope():
        assert Project.objects.get().code == "FC-31"
        assert Plan.objects.get().run.label == "31"
