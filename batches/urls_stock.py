"""Addresses of deliveries, lots and holds."""

from django.urls import path

from batches.views import holds, lots, stock

patterns = [
    path("stock/receive/", stock.receive, name="receive"),
    path("stock/count-in/", stock.shelf_count, name="count-in"),
    path("deliveries/", stock.delivery_list, name="deliveries"),
    path("deliveries/<str:code>/", stock.delivery, name="delivery"),
    path("lots/", stock.lot_list, name="lots"),
    path("lots/<str:code>/", lots.lot, name="lot"),
    path("lots/<str:code>/ledger/", lots.ledger, name="lot-ledger"),
    path("lots/<str:code>/movement/", lots.movement, name="lot-movement"),
    path("lots/<str:code>/decide/", lots.decide, name="lot-decide"),
    path("lots/<str:code>/retest/", lots.retest, name="lot-retest"),
    path("lots/<str:code>/hold/", lots.hold, name="lot-hold"),
    path("lots/<str:code>/papers/", lots.paper, name="lot-paper"),
    path("lots/<str:code>/opened/", lots.opened, name="lot-opened"),
    path("lots/<str:code>/ledger/<uuid:uuid>/", lots.correct, name="lot-correct"),
    path("holds/<uuid:uuid>/", holds.hold_close, name="hold"),
]
