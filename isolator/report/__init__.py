"""The verdict on a page for a person, and as one object for a program."""

from isolator.report.data import as_data
from isolator.report.paper import page

__all__ = ["as_data", "page"]
