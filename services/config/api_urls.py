"""Addresses of the API, version 1."""

from django.urls import URLPattern, path

from services.bench import api as bench
from services.company import api as company
from services.costing import api as costing
from services.pages import api as pages
from services.pages.views import reference
from services.papers import api as papers
from services.planning import api as planning
from services.projects import api as projects
from services.tracking import api as tracking

urlpatterns: list[URLPattern] = [
    path("", reference.reference, name="api-reference"),
    path("openapi.json", reference.Description.as_view(), name="api-openapi"),
    path("crews", company.Crews.as_view(), name="api-crews"),
    path("crews/<uuid:crew_id>", company.OneCrew.as_view(), name="api-crew"),
    path("people", company.People.as_view(), name="api-people"),
    path("people/<uuid:member_id>", company.OnePerson.as_view(), name="api-person"),
    path("people/<uuid:member_id>/resets", company.Resets.as_view(), name="api-resets"),
    path("invitations", company.Invitations.as_view(), name="api-invitations"),
    path("invitations/<uuid:invitation_id>", company.OneInvitation.as_view(), name="api-invitation"),
    path("settings", company.Settings.as_view(), name="api-settings"),
    path("rights", company.Rights.as_view(), name="api-rights"),
    path("account", company.Account.as_view(), name="api-account"),
    path("account/mail", company.OwnMail.as_view(), name="api-own-mail"),
    path("account/password", company.OwnPassword.as_view(), name="api-own-password"),
    path("account/leave", company.Leaving.as_view(), name="api-leave"),
    path("benders", bench.Benders.as_view(), name="api-benders"),
    path("benders/<uuid:bender_id>", bench.OneBender.as_view(), name="api-bender"),
    path("formers", bench.Formers.as_view(), name="api-formers"),
    path("projects", projects.Projects.as_view(), name="api-projects"),
    path("projects/<uuid:project_id>", projects.OneProject.as_view(), name="api-project"),
    path("projects/archived", projects.ArchivedProjects.as_view(), name="api-projects-archived"),
    path("projects/<uuid:project_id>/archive", projects.Archive.as_view(), name="api-project-archive"),
    path("projects/<uuid:project_id>/back", projects.BringBack.as_view(), name="api-project-back"),
    path("projects/<uuid:project_id>/room-order", projects.RoomOrder.as_view(), name="api-room-order"),
    path("projects/<uuid:project_id>/chart", pages.Chart.as_view(), name="api-chart"),
    path("search", pages.Search.as_view(), name="api-search"),
    path("rooms/<uuid:room_id>", projects.OneRoom.as_view(), name="api-room"),
    path("runs/due", projects.DueDays.as_view(), name="api-due"),
    path("runs/priority", projects.Priorities.as_view(), name="api-priority"),
    path("assignments", tracking.Assignments.as_view(), name="api-assign"),
    path("projects/<uuid:project_id>/rooms", projects.Rooms.as_view(), name="api-rooms"),
    path("projects/<uuid:project_id>/runs", projects.RunsOfProject.as_view(), name="api-runs-of-project"),
    path("projects/<uuid:project_id>/survey", projects.Survey.as_view(), name="api-survey"),
    path("rooms/<uuid:room_id>/runs", projects.RunsOfRoom.as_view(), name="api-runs-of-room"),
    path("runs/<uuid:run_id>", projects.OneRun.as_view(), name="api-run"),
    path("runs/<uuid:run_id>/rows", projects.Rows.as_view(), name="api-rows"),
    path("runs/<uuid:run_id>/draft", planning.Draft.as_view(), name="api-draft"),
    path("runs/<uuid:run_id>/plan", planning.CurrentPlan.as_view(), name="api-plan"),
    path("runs/<uuid:run_id>/release", planning.Release.as_view(), name="api-release"),
    path("runs/<uuid:run_id>/bank", projects.Bank.as_view(), name="api-bank"),
    path("runs/<uuid:run_id>/bank/leave", projects.LeaveBank.as_view(), name="api-bank-leave"),
    path("runs/<uuid:run_id>/split", projects.Split.as_view(), name="api-split"),
    path("runs/<uuid:run_id>/plans", planning.Plans.as_view(), name="api-plans"),
    path("runs/<uuid:run_id>/compare", planning.Compare.as_view(), name="api-compare"),
    path("runs/<uuid:run_id>/sticks", planning.MoreSticks.as_view(), name="api-more-sticks"),
    path("runs/<uuid:run_id>/overrides", planning.Overrides.as_view(), name="api-overrides"),
    path(
        "runs/<uuid:run_id>/overrides/<uuid:override_id>",
        planning.OneOverride.as_view(),
        name="api-override",
    ),
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
    path("papers/drawn", papers.Paper.as_view(), name="api-paper"),
    path("papers/sheets", papers.Sheets.as_view(), name="api-sheets"),
    path("papers/packs", papers.Packs.as_view(), name="api-packs"),
    path("papers/packs/<uuid:pack_id>", papers.OnePack.as_view(), name="api-pack"),
    path("papers/packs/<uuid:pack_id>/pdf", papers.PackPages.as_view(), name="api-pack-pdf"),
    path("papers/packs/<uuid:pack_id>/cancel", papers.CancelPack.as_view(), name="api-pack-cancel"),
    path("papers/packs/<uuid:pack_id>/again", papers.PackAgain.as_view(), name="api-pack-again"),
    path("ticks", tracking.Ticks.as_view(), name="api-ticks"),
]
