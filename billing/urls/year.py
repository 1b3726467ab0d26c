"""The Year end door, and what theme runs cost."""

from django.urls import URLPattern, path, register_converter

from billing.views import cost, year


class YearConverter:
    regex = r"[12]\d{3}"

    def to_python(self, value: str) -> int:
        return int(value)

    def to_url(self, value: int) -> str:
        return f"{value:04d}"


register_converter(YearConverter, "tax_year")

urlpatterns: list[URLPattern] = [
    path("<slug:slug>/year-end/", year.year_end, name="year_end"),
    path("<slug:slug>/year-end/<tax_year:year>/", year.year, name="year"),
    path("<slug:slug>/year-end/<tax_year:year>/home/", year.home, name="year_home"),
    path("<slug:slug>/year-end/<tax_year:year>/workbook/", year.workbook, name="year_workbook"),
    path("<slug:slug>/year-end/<tax_year:year>/choices/", year.choices, name="year_choices"),
    path("<slug:slug>/year-end/<tax_year:year>/close/", year.close, name="year_close"),
    path("<slug:slug>/year-end/<tax_year:year>/reopen/", year.reopen, name="year_reopen"),
    path("<slug:slug>/theme/plan/forecast/", cost.forecast, name="forecast"),
    path("<slug:slug>/theme/<str:public_id>/cost/", cost.run_cost, name="run_cost"),
    path("<slug:slug>/theme/<str:public_id>/cost/sheet/", cost.sheet, name="cost_sheet"),
    path("<slug:slug>/theme/<str:public_id>/cost/sheet/pdf/", cost.sheet_pdf, name="cost_sheet_pdf"),
]
