"""Addresses of single things among the equipment, below /equipment/."""

from django.urls import path

from stash.views import equipment

urlpatterns = [
    path("<str:kind>/new/", equipment.equipment_new, name="equipment-new"),
    path("<str:kind>/<int:pk>/", equipment.equipment_page, name="equipment-page"),
    path("<str:kind>/<int:pk>/lend/", equipment.equipment_lend, name="equipment-lend"),
    path("<str:kind>/<int:pk>/back/", equipment.equipment_back, name="equipment-back"),
    path("<str:kind>/<int:pk>/retire/", equipment.equipment_retire, name="equipment-retire"),
]
