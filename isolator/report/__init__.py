"""The verdict on a page for a person, as one object for a program, and as a report."""

from isolator.report.data import as_data
from isolator.report.fall import fall_data, fall_page
from isolator.report.files import save
from isolator.report.paper import page

__all__ = ["as_data", "fall_data", "fall_page", "page", "save"]
