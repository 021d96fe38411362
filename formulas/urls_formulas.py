"""Addresses of formulas, products and articles."""

from django.urls import path

from formulas.views import compare, desk, formulas, lists, products, recipes, steps

patterns = [
    path("formulas/", lists.formula_list, name="list"),
    path("formulas/start/", formulas.formula_start, name="start"),
    path("formulas/read/", recipes.recipe_read, name="read"),
    path("formulas/compare/", compare.compare_page, name="compare"),
    path("formulas/<str:code>/", desk.version_page, name="detail"),
    path("formulas/<str:code>/change/", formulas.formula_change, name="change"),
    path("formulas/<str:code>/next/", formulas.version_next, name="next"),
    path("formulas/<str:code>/products/add/", products.product_add, name="product-add"),
    path("formulas/<str:code>/<int:number>/", desk.version_page, name="version"),
    path("formulas/<str:code>/<int:number>/steps/", steps.steps_page, name="steps"),
    path("formulas/<str:code>/<int:number>/approve/", formulas.approve_page, name="approve"),
    path("formulas/<str:code>/<int:number>/withdraw/", formulas.version_withdraw, name="withdraw"),
    path("formulas/<str:code>/<int:number>/variant/", formulas.variant, name="variant"),
    path("products/", lists.product_list, name="products"),
    path("products/<str:code>/", products.product, name="product"),
    path("products/<str:code>/heat/", products.product_heat, name="product-heat"),
    path("products/<str:code>/change/", products.product_change, name="product-change"),
    path("articles/", lists.article_list, name="articles"),
    path("articles/add/", products.article_add, name="article-add"),
    path("articles/<str:code>/", products.article, name="article"),
]
