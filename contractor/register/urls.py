"""Addresses of the register area.

The pages of one customer, one building and one device gather what higher areas know;
contractor/urls.py adds them under the names register:customer, register:building and
register:device.
"""

from django.urls import path

from contractor.register.views import customers, instruments, premises, several

app_name = "register"
_CUSTOMER = "customers/<uuid:customer_id>/"
_CONTACT = "contacts/<uuid:contact_id>/"
_INSTRUMENT = "instruments/<uuid:instrument_id>/"
urlpatterns = [
    path("buildings/", premises.buildings, name="buildings"),
    path("buildings/new/", premises.add_building, name="add_building"),
    path("buildings/<uuid:building_id>/change/", premises.change_building, name="change_building"),
    path("buildings/<uuid:building_id>/devices/", premises.devices, name="devices"),
    path("buildings/<uuid:building_id>/heat/kinds/", premises.heat_kinds, name="heat_kinds"),
    path("devices/<uuid:device_id>/describe/", premises.describe, name="describe"),
    path("buildings/<uuid:building_id>/devices/several/", several.set_devices, name="set_devices"),
    path("devices/several/<uuid:deed_id>/", several.devices_set, name="devices_set"),
    path("customers/", customers.customers, name="customers"),
    path("customers/new/", customers.add_customer, name="add_customer"),
    path(f"{_CUSTOMER}change/", customers.change_customer, name="change_customer"),
    path(f"{_CUSTOMER}contacts/new/", customers.add_contact, name="add_contact"),
    path(f"{_CONTACT}change/", customers.change_contact, name="change_contact"),
    path(f"{_CONTACT}left/", customers.part_with_contact, name="part_with_contact"),
    path("instruments/", instruments.instruments, name="instruments"),
    path("instruments/new/", instruments.add, name="add_instrument"),
    path(f"{_INSTRUMENT}change/", instruments.change, name="change_instrument"),
    path(f"{_INSTRUMENT}out-of-use/", instruments.retire, name="retire_instrument"),
    path(f"{_INSTRUMENT}in-use/", instruments.put_back, name="return_instrument"),
    path("products/", premises.products, name="products"),
    path("products/<uuid:product_id>/", premises.change_product, name="change_product"),
]
