"""Addresses of the API, version 1."""

from django.urls import URLPattern, path

from services.bench import api as bench
from services.company import api as company
from services.costing import api as costing
from services.planning import api as planning
from services.projects import api as projects
from services.tracking import api as tracking

urlpatterns: list[URLPattern] = [
    path("crews", company.Crews.as_view(), name="api-crews"),
    path("formers", bench.Formers.as_view(), name="api-formers"),
    path("projects", projects.Projects.as_view(), name="api-projects"),
    path("projects/<uuid:project_id>", projects.OneProject.as_view(), name="api-project"),
    path("projects/<uuid:project_id>/rooms", projects.Rooms.as_view(), name="api-rooms"),
    path("projects/<uuid:project_id>/runs", projects.RunsOfProject.as_view(), name="api-runs-of-project"),
    path("rooms/<uuid:room_id>/runs", projects.RunsOfRoom.as_view(), name="api-runs-of-room"),
    path("runs/<uuid:run_id>", projects.OneRun.as_view(), name="api-run"),
    path("runs/<uuid:run_id>/rows", projects.Rows.as_view(), name="api-rows"),
    path("runs/<uuid:run_id>/draft", planning.Draft.as_view(), name="api-draft"),
    path("runs/<uuid:run_id>/plan", planning.CurrentPlan.as_view(), name="api-plan"),
    path("runs/<uuid:run_id>/release", planning.Release.as_view(), name="api-release"),
    path("runs/<uuid:run_id>/pieces", tracking.PiecesOfRun.as_view(), name="api-pieces-of-run"),
    path("pieces", tracking.Work.as_view(), name="api-work"),
    path("pieces/<uuid:piece_id>", tracking.OnePiece.as_view(), name="api-piece"),
    path("pieces/<uuid:piece_id>/ticks", tracking.TicksOfPiece.as_view(), name="api-ticks-of-piece"),
    path("review/scrap", costing.ScrapByProject.as_view(), name="api-scrap"),
    path("review/scrap/<uuid:project_id>", costing.ScrapOfProject.as_view(), name="api-scrap-of-project"),
    path(
        "review/scrap/<uuid:project_id>/entries",
        costing.EntriesOfProject.as_view(),
        name="api-scrap-entries",
    ),
    path("ticks", tracking.Ticks.as_view(), name="api-ticks"),
]
