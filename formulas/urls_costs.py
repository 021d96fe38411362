"""Addresses of prices, rates, costs and margins."""

from django.urls import path

from formulas.views import costs, prices

patterns = [
    path("costs/", costs.cost_list, name="costs"),
    path("costs/what-if/", costs.what_if, name="what-if"),
    path("costs/basis/", costs.cost_basis, name="cost-basis"),
    path("costs/rates/", prices.rates, name="rates"),
    path("costs/rates/add/", prices.rate_add, name="rate-add"),
    path("costs/rates/<uuid:uuid>/change/", prices.rate_change, name="rate-change"),
    path("products/<str:code>/cost/", costs.product_cost, name="product-cost"),
    path("products/<str:code>/cost/change/", costs.product_cost_change, name="product-cost-change"),
    path("articles/<str:code>/prices/", prices.prices_of_article, name="article-prices"),
    path("articles/<str:code>/prices/add/", prices.article_price_add, name="article-price-add"),
    path("ingredients/<str:code>/prices/", prices.prices, name="prices"),
    path("ingredients/<str:code>/prices/add/", prices.price_add, name="price-add"),
]
