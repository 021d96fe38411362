"""Addresses of the formulas world, below a maker."""

from django.urls import URLPattern, URLResolver

from formulas import urls_formulas

app_name = "formulas"
urlpatterns: list[URLPattern | URLResolver] = [
    *urls_formulas.patterns,
]
