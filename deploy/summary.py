"""Says in a few lines what a plan of the command line holds: sticks, lengths, bends, what stops the work."""

import json
import sys
from pathlib import Path

from bendcore import tape
from bendcore.units import Units


def lines_of(plan: dict, name: str) -> list[str]:
    """The lines for one conduit. `name` is put before them, empty where the run is not a bank."""
    sticks = plan["sticks"]
    bends = sum(len(stick["bends"]) for stick in sticks)
    cuts = " + ".join(tape.read(stick["cut_length"], Units.MM) for stick in sticks)
    lines = [
        f"{name}developed length {tape.say(plan['developed_length'], Units.MM)}, "
        f"bends {bends} ({tape.degrees(plan['total_bend'])}), sticks {len(sticks)}: cut {cuts} mm"
    ]
    stops = [finding for finding in plan["findings"] if finding["level"] == "stop"]
    lines += [f"{name}STOP at {stop['where']}: {stop['text']}" for stop in stops]
    others = len(plan["findings"]) - len(stops)
    if others:
        lines.append(f"{name}{others} other {'finding' if others == 1 else 'findings'}")
    return [f"  {line}" for line in lines]


def main() -> None:
    answer = json.loads(Path(sys.argv[1]).read_text("utf-8"))
    if "plans" in answer:
        for number, plan in enumerate(answer["plans"], start=1):
            print(*lines_of(plan, f"conduit {number}: "), sep="\n")
    else:
        print(*lines_of(answer, ""), sep="\n")


main()
