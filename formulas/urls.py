"""Addresses of the formulas world, below a maker."""

from django.urls import URLPattern, URLResolver

from formulas import urls_costs, urls_formulas, urls_ingredients

app_name = "formulas"
urlpatterns: list[URLPattern | URLResolver] = [
    *urls_formulas.patterns,
    *urls_ingredients.patterns,
    *urls_costs.patterns,
]
