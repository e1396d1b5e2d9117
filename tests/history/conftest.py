"""The played jobs of the sheet's tests."""

from tests.report.conftest import metric, troubled

__all__ = ["metric", "troubled"]
