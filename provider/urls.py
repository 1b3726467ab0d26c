"""Addresses of the way in, Today, Families and Settings. Every one but the way in begins with the business's slug."""

from django.urls import path

from provider.views import access, attendance, door, families, files, hours, settings, sheets, today

app_name = "provider"

urlpatterns = [
    path("", access.home, name="home"),
    path("sign-in/", access.SignIn.as_view(), name="sign_in"),
    path("sign-in/password/", access.ChangePassword.as_view(), name="password"),
    path("sign-out/", access.SignOut.as_view(), name="sign_out"),
    path("set-up/", access.set_up, name="set_up"),
    # The tablet by the door: no login
    path("door/<slug:slug>/", door.door, name="door"),
    path("door/<slug:slug>/open/<token>/", door.door_open, name="door_open"),
    path("door/<slug:slug>/children/", door.door_children, name="door_children"),
    path("door/<slug:slug>/children/<child>/", door.door_sign, name="door_sign"),
    # Today
    path("<slug:slug>/today/", today.today, name="today"),
    path("<slug:slug>/today/in/<child>/", today.sign_in_child, name="sign_in_child"),
    path("<slug:slug>/today/out/<child>/", today.sign_out_child, name="sign_out_child"),
    path("<slug:slug>/today/undo/<attendance>/", today.undo_attendance, name="undo_attendance"),
    path("<slug:slug>/today/here/", today.present, name="present"),
    path("<slug:slug>/today/attendance/", attendance.attendance, name="attendance"),
    path(
        "<slug:slug>/today/attendance/<int:year>/<int:month>/<int:day>/",
        attendance.attendance_day,
        name="attendance_day",
    ),
    path(
        "<slug:slug>/today/attendance/<int:year>/<int:month>/",
        attendance.attendance_month,
        name="attendance_month",
    ),
    path("<slug:slug>/today/attendance/add/", attendance.attendance_add, name="attendance_add"),
    path("<slug:slug>/today/attendance/absent/", attendance.attendance_absent, name="attendance_absent"),
    path("<slug:slug>/today/attendance/<attendance>/change/", attendance.attendance_change, name="attendance_change"),
    path("<slug:slug>/today/attendance/<attendance>/void/", attendance.attendance_void, name="attendance_void"),
    path("<slug:slug>/today/attendance/<attendance>/note/", attendance.attendance_note, name="attendance_note"),
    path("<slug:slug>/today/sheet/<int:year>/<int:month>/", sheets.sheet_month, name="sheet_month"),
    path("<slug:slug>/today/sheet/<int:year>/<int:month>/pdf/", sheets.sheet_month_pdf, name="sheet_month_pdf"),
    path("<slug:slug>/today/sheet/<int:year>/<int:month>/<int:day>/", sheets.sheet_day, name="sheet_day"),
    path("<slug:slug>/today/sheet/<int:year>/<int:month>/<int:day>/pdf/", sheets.sheet_day_pdf, name="sheet_day_pdf"),
    path("<slug:slug>/today/hours/", hours.hours, name="hours"),
    path("<slug:slug>/today/hours/<int:year>/<int:month>/", hours.hours_month, name="hours_month"),
    path("<slug:slug>/today/hours/add/", hours.work_add, name="work_add"),
    path("<slug:slug>/today/hours/<work>/change/", hours.work_change, name="work_change"),
    path("<slug:slug>/today/hours/<work>/void/", hours.work_void, name="work_void"),
    # Families
    path("<slug:slug>/families/", families.families, name="families"),
    path("<slug:slug>/families/add/", families.household_add, name="household_add"),
    path("<slug:slug>/families/guardian/<guardian>/", families.guardian_change, name="guardian_change"),
    path("<slug:slug>/families/guardian/<guardian>/pin/", door.guardian_pin, name="guardian_pin"),
    path("<slug:slug>/families/guardian/<guardian>/pin/remove/", door.guardian_pin_remove, name="guardian_pin_remove"),
    path("<slug:slug>/families/child/<child>/", families.child_change, name="child_change"),
    path("<slug:slug>/families/child/<child>/place/", families.enrolment_add, name="enrolment_add"),
    path("<slug:slug>/families/place/<enrolment>/days/", families.enrolment_pattern, name="enrolment_pattern"),
    path("<slug:slug>/families/place/<enrolment>/end/", families.enrolment_end, name="enrolment_end"),
    path("<slug:slug>/families/<household>/", families.household, name="household"),
    path("<slug:slug>/families/<household>/change/", families.household_change, name="household_change"),
    path("<slug:slug>/families/<household>/guardian/", families.guardian_add, name="guardian_add"),
    path("<slug:slug>/families/<household>/child/", families.child_add, name="child_add"),
    # Settings
    path("<slug:slug>/settings/", settings.settings, name="settings"),
    path("<slug:slug>/settings/business/", settings.business, name="business"),
    path("<slug:slug>/settings/rooms/add/", settings.room_add, name="room_add"),
    path("<slug:slug>/settings/rooms/<room>/", settings.room_change, name="room_change"),
    path("<slug:slug>/settings/rooms/<room>/use/", settings.room_use, name="room_use"),
    path("<slug:slug>/settings/opening-hours/", settings.opening_hours, name="opening_hours"),
    path("<slug:slug>/settings/closures/", settings.closures, name="closures"),
    path("<slug:slug>/settings/closures/add/", settings.closure_add, name="closure_add"),
    path("<slug:slug>/settings/closures/<closure>/void/", settings.closure_void, name="closure_void"),
    path("<slug:slug>/settings/people/", settings.people, name="people"),
    path("<slug:slug>/settings/door/", door.door_devices, name="door_devices"),
    path("<slug:slug>/settings/door/add/", door.door_device_add, name="door_device_add"),
    path("<slug:slug>/settings/door/<device>/", door.door_device, name="door_device"),
    path("<slug:slug>/settings/door/<device>/revoke/", door.door_device_revoke, name="door_device_revoke"),
    path("<slug:slug>/settings/people/add/", settings.member_add, name="member_add"),
    path("<slug:slug>/settings/people/<member>/password/", settings.member_password, name="member_password"),
    path("<slug:slug>/settings/history/", settings.history, name="history"),
    path("<slug:slug>/files/<str:public_id>/", files.show_file, name="file"),
]
