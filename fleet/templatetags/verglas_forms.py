"""Tags: form fields with help and errors, and the summary of what is wrong."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django import forms, template
from django.forms.boundfield import BoundField
from django.template.context import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from fleet.common.errors import Refusal

register = template.Library()

GROUPED = (forms.RadioSelect, forms.CheckboxSelectMultiple)


def described(bound: BoundField) -> SafeString:
    """The control itself, tied to its help and its error for those who listen to the page."""
    names = [f"{bound.id_for_label}-help"] if bound.help_text else []
    names += [f"{bound.id_for_label}-error"] if bound.errors else []
    attributes: dict[str, Any] = {"aria-describedby": " ".join(names)} if names else {}
    if bound.errors:
        attributes["aria-invalid"] = "true"
    return SafeString(bound.as_widget(attrs=attributes))


@register.inclusion_tag("components/field.html")
def field(bound: BoundField, unit: str = "", help: str = "") -> dict[str, Any]:  # noqa: A002
    widget = bound.field.widget
    if help:
        bound.help_text = help
    return {
        "bound": bound,
        "unit": unit,
        "errors": error_words(bound),
        "control": described(bound),
        "is_group": isinstance(widget, GROUPED),
        "is_choice": isinstance(widget, forms.CheckboxInput),
        "is_secret": isinstance(widget, forms.PasswordInput | forms.FileInput),
    }


@register.simple_tag
def fields(form: forms.BaseForm) -> SafeString:
    """Every field of the form in its own order, hidden ones first and bare."""
    hidden = [SafeString(str(bound)) for bound in form.hidden_fields()]
    shown = [render_to_string("components/field.html", field(bound)) for bound in form.visible_fields()]
    return SafeString("\n".join([*hidden, *shown]))


def error_words(bound: BoundField) -> list[str]:
    """What is wrong with a field; a field left empty is told what to do rather than that it is required."""
    words: list[str] = []
    for error in bound.errors.as_data():
        is_empty = error.code == "required" and error.messages == [
            forms.Field.default_error_messages["required"]
        ]
        words += [f"Nothing was entered. Fill in “{bound.label}”."] if is_empty else error.messages
    return words


def form_problems(form: forms.BaseForm) -> list[tuple[str, str, str]]:
    """Anchor, field name and words of every error of the form."""
    problems = [("", "", str(words)) for words in form.non_field_errors()]
    for bound in form:
        anchor = bound.id_for_label or bound.auto_id
        problems += [(anchor, str(bound.label), words) for words in error_words(bound)]
    return problems


def refusal_problems(refusal: Refusal, form: forms.BaseForm | None) -> list[tuple[str, str, str]]:
    """The reasons of a refusal, each leading to the field it names where the form has one."""
    known = {bound.name: bound for bound in form} if form is not None else {}
    problems = []
    for reason in refusal.reasons:
        bound = known.get(reason.field)
        anchor = (bound.id_for_label or bound.auto_id) if bound else ""
        named = replace(reason, field=str(bound.label)) if bound else reason
        problems.append((anchor, "", named.sentence()))
    return problems or [("", "", refusal.sentence)]


@register.inclusion_tag("components/error_summary.html")
def error_summary(form: forms.BaseForm | None = None, refusal: Refusal | None = None) -> dict[str, Any]:
    problems = form_problems(form) if form is not None and form.is_bound else []
    if refusal:
        problems += refusal_problems(refusal, form)
    sentence = refusal.sentence if refusal and refusal.reasons and not refusal.is_its_reason else ""
    return {"problems": problems, "sentence": sentence}


@register.simple_block_tag(takes_context=True)
def action_form(
    context: Context, content: str, action: str, submit: str, kind: str = "primary"
) -> SafeString:
    """A POST form with its token and one button; the content is its fields."""
    values = {"content": content, "action": action, "submit": submit, "kind": kind}
    return render_to_string(
        "components/action_form.html", values | {"csrf_token": context.get("csrf_token", "")}
    )
