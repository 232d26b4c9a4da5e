"""Addresses of the search area."""

from django.urls import path

from contractor.search import views

app_name = "search"
urlpatterns = [
    path("search/", views.find, name="find"),
    path("search/quick/", views.quick, name="quick"),
    path("answers/", views.questions, name="answers"),
    path("answers/tested/", views.tested, name="tested"),
    path("answers/products/", views.with_product, name="products"),
    path("answers/products/<uuid:product_id>/", views.with_product, name="with_product"),
    path("answers/extension/", views.lost, name="lost"),
    path("answers/not-tested/", views.not_reached, name="not_reached"),
]
