"""Addresses of the office pages."""

from django.urls import URLPattern, path

from services.pages.views import door, review, store, survey, work

urlpatterns: list[URLPattern] = [
    path("", work.wall_chart, name="wall-chart"),
    path("sign-in/", door.sign_in, name="sign-in"),
    path("sign-out/", door.sign_out, name="sign-out"),
    path("light/", door.set_light, name="light"),
    path("company/", door.switch_company, name="switch-company"),
    path("projects/new/", survey.project_new, name="project-new"),
    path("projects/<uuid:project_id>/", work.wall_chart, name="project"),
    path("projects/<uuid:project_id>/rooms/new/", survey.room_new, name="room-new"),
    path("rooms/<uuid:room_id>/runs/new/", survey.run_new, name="run-new"),
    path("runs/<uuid:run_id>/", work.run, name="run"),
    path("runs/<uuid:run_id>/change/", survey.run_change, name="run-change"),
    path("runs/<uuid:run_id>/sheet/", survey.run_sheet, name="run-sheet"),
    path("runs/<uuid:run_id>/rows/", survey.run_rows, name="run-rows"),
    path("runs/<uuid:run_id>/release/", survey.run_release, name="run-release"),
    path("plans/<uuid:plan_id>/bend-cards.pdf", work.bend_cards, name="bend-cards"),
    path("work/", work.work, name="work"),
    path("s/<uuid:stick_id>/", work.stick, name="stick"),
    path("pieces/<uuid:piece_id>/", work.piece, name="piece"),
    path("pieces/<uuid:piece_id>/ticks/", work.piece_tick, name="piece-tick"),
    path("pieces/<uuid:piece_id>/ticks/<uuid:tick_id>/back/", work.tick_back, name="tick-back"),
    path("pieces/<uuid:piece_id>/scrap/", work.scrap, name="scrap"),
    path("benders/", store.benders, name="benders"),
    path("benders/<uuid:bender_id>/formers/new/", store.former_new, name="former-new"),
    path("formers/<uuid:former_id>/", store.former_change, name="former-change"),
    path("stock/", store.stock, name="stock"),
    path("review/", review.review, name="review"),
    path("review/<uuid:project_id>/", review.review_job, name="review-job"),
    path("review/<uuid:project_id>/entries/", review.review_entries, name="review-entries"),
]
