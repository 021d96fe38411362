"""Addresses of the batches world, below a maker."""

from django.urls import URLPattern, URLResolver

from batches import urls_making, urls_selling, urls_stock, urls_tracing

app_name = "batches"
urlpatterns: list[URLPattern | URLResolver] = [
    *urls_stock.patterns,
    *urls_making.patterns,
    *urls_selling.patterns,
    *urls_tracing.patterns,
]
