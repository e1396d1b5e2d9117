"""A few played jobs, shared by the tests of the sheet."""

import pytest

from assistant.virtual_axle import Build
from tests.report.jobs import Played, played


@pytest.fixture(scope="session")
def troubled(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A job in inches with three mistakes in it."""
    faults = ("at-the-yoke", "shim-left-out", "decimal-slip@read:backlash#3")
    return played(tmp_path_factory.mktemp("troubled"), "troubled", seed=6, faults=faults)


@pytest.fixture(scope="session")
def metric(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """A job in millimetres on a crush sleeve."""
    return played(tmp_path_factory.mktemp("metric"), "metric", Build("head-cone", "crush-sleeve", "side-shims", "mm"), 3)
