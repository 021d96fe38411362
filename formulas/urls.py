"""Addresses of the formulas world, below a maker."""

from django.urls import URLPattern, URLResolver

app_name = "formulas"
urlpatterns: list[URLPattern | URLResolver] = []
