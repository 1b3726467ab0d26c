"""Addresses of the Money and Year end doors, and the cost fragment of a theme."""

from billing.urls import food, receipts, tuition, year

app_name = "billing"

urlpatterns = [*receipts.urlpatterns, *tuition.urlpatterns, *food.urlpatterns, *year.urlpatterns]
