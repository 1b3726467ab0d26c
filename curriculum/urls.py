from django.urls import path

from curriculum.views import materials, observations, placements, runs, themes

app_name = "curriculum"

# The fixed words come before <run>: no public id has a vowel, so none can be taken for one of them.
urlpatterns = [
    path("<slug:slug>/theme/", runs.theme, name="theme"),
    path("<slug:slug>/theme/plan/", runs.plan, name="plan"),
    path("<slug:slug>/theme/themes/", themes.themes, name="themes"),
    path("<slug:slug>/theme/themes/new/", themes.add_theme, name="add_theme"),
    path("<slug:slug>/theme/themes/<str:theme>/", themes.change_theme, name="change_theme"),
    path("<slug:slug>/theme/centres/", themes.centres, name="centres"),
    path("<slug:slug>/theme/centres/new/", themes.add_centre, name="add_centre"),
    path("<slug:slug>/theme/centres/<str:centre>/", themes.change_centre, name="change_centre"),
    path("<slug:slug>/theme/materials/", materials.materials, name="materials"),
    path("<slug:slug>/theme/materials/new/", materials.add_material, name="add_material"),
    path("<slug:slug>/theme/materials/<str:material>/", materials.material, name="material"),
    path("<slug:slug>/theme/materials/<str:material>/change/", materials.change_material, name="change_material"),
    path("<slug:slug>/theme/materials/<str:material>/add/", materials.add_lot, name="add_lot"),
    path("<slug:slug>/theme/lots/<str:lot>/", materials.lot, name="lot"),
    path("<slug:slug>/theme/lots/<str:lot>/correct/", materials.correct_lot, name="correct_lot"),
    path("<slug:slug>/theme/lots/<str:lot>/void/", materials.void_lot, name="void_lot"),
    path("<slug:slug>/theme/placements/<str:placement>/remove/", placements.unplace, name="unplace"),
    path("<slug:slug>/theme/placements/<str:placement>/put-away/", placements.put_away, name="put_away"),
    path("<slug:slug>/theme/put-away/<str:row>/undo/", placements.void_put_away, name="void_put_away"),
    path("<slug:slug>/theme/observations/", observations.observations, name="observations"),
    path("<slug:slug>/theme/observations/new/", observations.add_observation, name="add_observation"),
    path(
        "<slug:slug>/theme/observations/<str:observation>/", observations.change_observation, name="change_observation"
    ),
    path(
        "<slug:slug>/theme/observations/<str:observation>/void/",
        observations.void_observation,
        name="void_observation",
    ),
    path(
        "<slug:slug>/theme/observations/<str:observation>/photo/",
        observations.observation_photo,
        name="observation_photo",
    ),
    path("<slug:slug>/papers/observations/", observations.family_observations, name="family_observations"),
    path("<slug:slug>/papers/observations/<str:observation>/photo/", observations.family_photo, name="family_photo"),
    path("<slug:slug>/theme/<str:run>/", runs.run, name="run"),
    path("<slug:slug>/theme/<str:run>/change/", runs.change, name="change_run"),
    path("<slug:slug>/theme/<str:run>/hours/", runs.log_hours, name="log_hours"),
    path("<slug:slug>/theme/<str:run>/lay-out/", placements.choose, name="choose_lot"),
    path("<slug:slug>/theme/<str:run>/lay-out/<str:lot>/", placements.place, name="place_lot"),
]
