"""Addresses of the batches world, below a maker."""

from django.urls import URLPattern, URLResolver

from batches import urls_selling, urls_tracing

from batches import urls_stock

app_name = "batches"
urlpatterns: list[URLPattern | URLResolver] = [
    *urls_stock.patterns,
]
