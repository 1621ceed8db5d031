"""The verdict on a page for a person and as one object for a program; `files` has the report."""

from isolator.report.data import as_data
from isolator.report.fall import fall_data, fall_page
from isolator.report.paper import page

__all__ = ["as_data", "fall_data", "fall_page", "page"]
