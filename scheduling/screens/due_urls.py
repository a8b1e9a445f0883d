"""Addresses of the due list, the programme, variations, relief and flying plans."""

from django.urls import URLPattern, URLResolver, path

from scheduling.screens import due, programme, relief

urlpatterns: list[URLPattern | URLResolver] = [
    path("due/", due.DueListScreen.as_view(), name="due-list"),
    path("due/counts/", due.DueCounts.as_view(), name="due-counts"),
    path("due/export.csv", due.DueFile.as_view(kind="csv"), name="due-csv"),
    path("due/export.xlsx", due.DueFile.as_view(kind="xlsx"), name="due-xlsx"),
    path("due/export.pdf", due.DueFile.as_view(kind="pdf"), name="due-pdf"),
    path("due/raise-tasks/", due.RaiseDueTasks.as_view(), name="raise-due-tasks"),
    path("due/without-last-done/", due.UnrecordedScreen.as_view(), name="due-unrecorded"),
    path("due/views/", due.KeepView.as_view(), name="keep-view"),
    path("due/views/<int:view_id>/forget/", due.ForgetView.as_view(), name="forget-view"),
    path("due/what-if/", due.WhatIfScreen.as_view(), name="what-if"),
    path("due/<int:item_id>/", due.DueItemScreen.as_view(), name="due-item"),
    path("due/<int:item_id>/paper.pdf", due.DueItemPaper.as_view(), name="due-item-pdf"),
    path("due/<int:item_id>/last-done/", due.LastDoneScreen.as_view(), name="last-done"),
    path("due/<int:item_id>/variation/", due.VaryScreen.as_view(), name="grant-variation"),
    path("due/<int:item_id>/stop/", due.StopScreen.as_view(), name="stop-item"),
    path("due/<int:item_id>/what-if/", due.IfDoneScreen.as_view(), name="if-done"),
    path("programme/", programme.ProgrammeScreen.as_view(), name="programme"),
    path("programme/new/", programme.WriteRequirementScreen.as_view(), name="new-requirement"),
    path("programme/apply/", programme.ApplyProgrammeScreen.as_view(), name="apply-programme"),
    path("programme/import/", programme.ImportScreen.as_view(), name="programme-import"),
    path("programme/lines/<slug:code>/", programme.RequirementScreen.as_view(), name="requirement"),
    path(
        "programme/lines/<slug:code>/change/",
        programme.WriteRequirementScreen.as_view(),
        name="change-requirement",
    ),
    path("programme/lines/<slug:code>/apply/", programme.ApplyScreen.as_view(), name="apply-requirement"),
    path("programme/lines/<slug:code>/retire/", programme.RetireScreen.as_view(), name="retire-requirement"),
    path("variations/", programme.VariationsScreen.as_view(), name="variations"),
    path(
        "variations/<int:variation_id>/withdraw/", due.WithdrawVariation.as_view(), name="withdraw-variation"
    ),
    path("variations/tables/new/", programme.TableScreen.as_view(), name="new-variation-table"),
    path("variations/tables/<int:table_id>/", programme.TableScreen.as_view(), name="variation-table"),
    path("relief/", relief.ReliefScreen.as_view(), name="relief"),
    path("relief/new/", relief.GrantReliefScreen.as_view(), name="grant-relief"),
    path("relief/<int:relief_id>/close/", relief.CloseReliefScreen.as_view(), name="close-relief"),
    path("relief/categories/new/", relief.CategoryScreen.as_view(), name="relief-category"),
    path("flying-plans/", relief.FlyingPlansScreen.as_view(), name="flying-plans"),
    path("flying-plans/<int:plan_id>/remove/", relief.RemovePlan.as_view(), name="remove-plan"),
]
