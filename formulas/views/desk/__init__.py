"""The formula desk: one working surface for a version, with its review."""

from formulas.views.desk.page import version_page

__all__ = ["version_page"]
