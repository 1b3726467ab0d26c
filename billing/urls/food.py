"""The food programme: taking part, and the claim of a month."""

from django.urls import URLPattern, path, register_converter

from billing.urls.tuition import MonthConverter
from billing.views import food

register_converter(MonthConverter, "claim_month")

urlpatterns: list[URLPattern] = [
    path("<slug:slug>/money/food/", food.overview, name="food"),
    path("<slug:slug>/money/food/join/", food.join, name="food_join"),
    path("<slug:slug>/money/food/<claim_month:first>/", food.month, name="food_month"),
    path("<slug:slug>/money/food/<claim_month:first>/file/", food.month_file, name="food_month_file"),
    path("<slug:slug>/money/food/<str:programme>/", food.change, name="food_programme"),
]
