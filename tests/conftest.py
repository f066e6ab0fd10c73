"""What every test may lean on: the folder of independent oracles, and how many random examples are tried."""

import os
import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

# pytest imports test modules by file (importlib mode) and leaves sys.path alone, so helper modules that
# several test files share are put within reach here. They are imported as `independent.machine`,
# `independent.walker`...
sys.path.insert(0, str(Path(__file__).parent / "bendcore"))

# A random failure must be found again: a failing example is printed with its @reproduce_failure line.
# HYPOTHESIS_PROFILE=thorough tries twenty times as many examples, each kind of test keeping its share.
settings.register_profile(
    "everyday",
    max_examples=100,
    deadline=None,
    print_blob=True,
    derandomize=False,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile("thorough", settings.get_profile("everyday"), max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "everyday"))
