"""Addresses of the due list, the programme, variations, relief and flying plans."""

from django.urls import URLPattern, URLResolver, path

from scheduling.api import due_views as due
from scheduling.api import programme_views as programme
from scheduling.api import reliefs_views as reliefs
from scheduling.api import variations_views as variations

urlpatterns: list[URLPattern | URLResolver] = [
    path("due/", due.DueListView.as_view()),
    path("due/counts/", due.DueCountsView.as_view()),
    path("due/export.csv", due.DueCsvView.as_view()),
    path("due/export.xlsx", due.DueWorkbookView.as_view()),
    path("due/export.pdf", due.DuePdfView.as_view()),
    path("due/raise-tasks/", due.RaiseTasksView.as_view()),
    path("due/what-if/", due.IfFliesView.as_view()),
    path("due/without-last-done/", due.UnrecordedView.as_view()),
    path("due/<int:item_id>/", due.DueItemView.as_view()),
    path("due/<int:item_id>/last-done/", due.LastDoneView.as_view()),
    path("due/<int:item_id>/stop/", due.DueStopView.as_view()),
    path("due/<int:item_id>/what-if/", due.WhatIfView.as_view()),
    path("due-views/", due.SavedViewsView.as_view()),
    path("due-views/<int:view_id>/", due.SavedViewView.as_view()),
    path("requirements/", programme.RequirementListView.as_view()),
    path("programme-applications/", programme.ProgrammeApplyView.as_view()),
    path("requirements/<slug:code>/", programme.RequirementView.as_view()),
    path("requirements/<slug:code>/versions/", programme.RequirementVersionsView.as_view()),
    path("requirements/<slug:code>/items/", programme.RequirementItemsView.as_view()),
    path("requirements/<slug:code>/apply/", programme.RequirementApplyView.as_view()),
    path("requirements/<slug:code>/retire/", programme.RequirementRetireView.as_view()),
    path("programme-imports/", programme.ProgrammeImportView.as_view()),
    path("variation-tables/", variations.TableListView.as_view()),
    path("variation-tables/<int:table_id>/", variations.TableView.as_view()),
    path("variations/", variations.VariationListView.as_view()),
    path("variations/<int:variation_id>/withdraw/", variations.VariationWithdrawView.as_view()),
    path("reliefs/", reliefs.ReliefListView.as_view()),
    path("reliefs/<int:relief_id>/close/", reliefs.ReliefCloseView.as_view()),
    path("relief-categories/", reliefs.CategoryListView.as_view()),
    path("flying-plans/", reliefs.PlanListView.as_view()),
    path("flying-plans/<int:plan_id>/", reliefs.PlanView.as_view()),
]
