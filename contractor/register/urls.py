"""Addresses of the register area.

The pages of one building and one device gather what higher areas know; contractor/urls.py adds
them under the names register:building and register:device.
"""

from django.urls import path

from contractor.register import views

app_name = "register"
urlpatterns = [
    path("buildings/", views.buildings, name="buildings"),
    path("buildings/new/", views.add_building, name="add_building"),
    path("buildings/<uuid:building_id>/change/", views.change_building, name="change_building"),
    path("buildings/<uuid:building_id>/devices/", views.devices, name="devices"),
    path("buildings/<uuid:building_id>/heat/kinds/", views.heat_kinds, name="heat_kinds"),
    path("devices/<uuid:device_id>/describe/", views.describe, name="describe"),
    path("find/", views.find, name="find"),
    path("products/", views.products, name="products"),
    path("products/<uuid:product_id>/", views.change_product, name="change_product"),
]
