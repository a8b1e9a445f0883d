from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.core.paginator import Paginator
from django.template import Context, Template
from django.test import RequestFactory

from fleet.common.chart import Chart, ChartPoint, PointKind
from fleet.common.errors import Conflict, Invalid, Reason


def shown(source: str, address: str = "/", **context: Any) -> str:
    request = RequestFactory().get(address)
    return Template("{% load verglas %}" + source).render(Context({"request": request, **context}))


class MeterForm(forms.Form):
    hours = forms.CharField(label="Flight hours", help_text="Such as 1304:30.")
    password = forms.CharField(label="Password", widget=forms.PasswordInput, max_length=3)
    volts = forms.DecimalField(
        label="Pump voltage", max_value=30, error_messages={"max_value": "Above 30 V."}
    )
    kind = forms.ChoiceField(label="Kind", choices=[("a", "A"), ("b", "B")], widget=forms.RadioSelect)


def test_a_status_says_its_words_beside_a_hidden_shape() -> None:
    html = shown('{% status "stop" "Overdue" "4 days" %}')
    assert 'aria-hidden="true" focusable="false"><rect class="full"' in html
    assert "Overdue" in html
    assert "4 days" in html


def test_an_unknown_level_is_the_authors_mistake() -> None:
    with pytest.raises(ValueError, match="level “red” is not one of stop, soon, clear, unknown"):
        shown('{% status "red" "Overdue" %}')


def test_text_given_to_a_piece_is_escaped() -> None:
    html = shown(
        "{% status 'stop' evil %}{% card evil url=evil %}{{ evil }}{% endcard %}{% panel evil %}x{% endpanel %}"
        "{% crumbs evil evil evil %}{% facts pairs %}{% button evil %}{% note evil %}x{% endnote %}",
        evil="<script>1</script>",
        pairs=[("<script>", "<script>")],
    )
    assert "<script" not in html


def test_a_field_ties_help_and_error_to_its_control_and_repeats_what_was_entered() -> None:
    form = MeterForm({"hours": "", "volts": "31.2"})
    html = shown('{% field form.volts unit="V" %}{% field form.hours %}', form=form)
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_volts-error"' in html
    assert 'aria-describedby="id_hours-help id_hours-error"' in html
    assert "Above 30 V." in html
    assert "You entered “31.2”." in html
    assert "Nothing was entered. Fill in “Flight hours”." in html


def test_a_wrong_password_is_never_repeated() -> None:
    html = shown("{% field form.password %}", form=MeterForm({"password": "much too long"}))
    assert "field-error" in html
    assert "much too long" not in html


def test_a_group_of_choices_has_a_legend() -> None:
    html = shown("{% field form.kind %}", form=MeterForm())
    assert '<legend class="field-legend">Kind</legend>' in html


def test_the_summary_leads_to_each_wrong_field() -> None:
    html = shown(
        "{% error_summary form %}", form=MeterForm({"hours": "1", "password": "abc", "volts": "31.2"})
    )
    assert "2 things to put right" in html
    assert '<a href="#id_volts">Pump voltage: Above 30 V.</a>' in html


def test_an_unsent_form_has_no_summary() -> None:
    assert shown("{% error_summary form %}", form=MeterForm()).strip() == ""


def test_a_refusal_leads_to_the_field_it_names_by_its_label() -> None:
    refusal = Invalid(
        "below", "Not stored", Reason("is below the last", "hours", "1299:10", "check the meter")
    )
    html = shown("{% error_summary form refusal %}", form=MeterForm(), refusal=refusal)
    assert "Not stored" in html
    assert '<a href="#id_hours">Flight hours “1299:10”: is below the last – check the meter</a>' in html


def test_a_refusal_without_reasons_says_its_sentence_once() -> None:
    html = shown("{% error_summary refusal=refusal %}", refusal=Conflict("closed", "This task is closed."))
    assert html.count("This task is closed.") == 1


@pytest.mark.parametrize(
    ("address", "link", "aria"),
    [
        ("/?base=2&page=3", "?base=2&amp;sort=due", ""),
        ("/?sort=due", "?sort=-due", 'aria-sort="ascending"'),
        ("/?sort=-due", "?sort=due", 'aria-sort="descending"'),
    ],
)
def test_a_column_sorts_turns_round_and_keeps_the_filter_but_not_the_page(
    address: str, link: str, aria: str
) -> None:
    html = shown('{% column "Due" sort="due" %}', address)
    assert f'href="{link}"' in html
    assert aria in html
    assert ("aria-sort" in html) == bool(aria)


def test_paging_keeps_the_query() -> None:
    html = shown('{% pager page "item" %}', "/?base=2&page=3", page=Paginator(range(143), 25).get_page(3))
    assert 'href="?base=2&amp;page=2"' in html
    assert 'href="?base=2&amp;page=4"' in html
    assert "143\u00a0items" in html
    assert "Page 3 of 6" in html


def test_paging_by_cursor_offers_only_where_there_is_more() -> None:
    class Rows:
        next_cursor = "x9"
        previous_cursor = ""

    html = shown("{% pager page %}", "/?after=x3&base=2", page=Rows())
    assert 'href="?base=2&amp;after=x9"' in html
    assert 'rel="prev"' not in html


def test_filters_remember_what_was_chosen_and_keep_the_order() -> None:
    html = shown(
        '{% filters search="Find" %}{% filter_choice "base" "Base" bases %}{% endfilters %}',
        "/?base=2&sort=-due&q=purge",
        bases=[(1, "Norrvik"), (2, "Hallin")],
    )
    assert '<option value="2" selected>Hallin</option>' in html
    assert '<input type="hidden" name="sort" value="-due">' in html
    assert 'value="purge"' in html
    assert "2 in use" in html


def test_a_confirmation_is_a_post_form_with_a_token_in_a_dialog() -> None:
    html = shown(
        '{% confirm "out" label="Withdraw" action="/go/" %}<p>Sure?</p>{% endconfirm %}', csrf_token="a-token"
    )
    assert 'commandfor="out" command="show-modal"' in html
    assert '<dialog id="out" aria-labelledby="out-title"><form method="post" action="/go/">' in html
    assert 'value="a-token"' in html


def test_a_bar_says_used_limit_and_remainder_in_words() -> None:
    html = shown(
        '{% meter_bar 10995 12000 "minutes" %}{% meter_bar over limit "V" %}', over=Decimal("31.5"), limit=30
    )
    text = html.replace("\u00a0", " ")
    assert "183:15 h" in text
    assert "16:45 h left" in text
    assert "1.5 V over" in text


def test_a_chart_stands_beside_a_table_of_its_values() -> None:
    chart = Chart(
        "flow",
        "Flow",
        "ml/min",
        (ChartPoint(date(2026, 3, 14), Decimal("118.50"), PointKind.FAILED, "cold fluid"),),
    )
    html = shown("{% trend_chart chart %}", chart=chart).replace("\u00a0", " ")
    assert '<svg class="chart-drawing"' in html
    row = '<td>14 Mar 2026</td><td class="number">118.50</td><td>outside the limit: cold fluid</td>'
    assert row in html


def test_a_chart_without_readings_says_so() -> None:
    assert "No readings yet." in shown("{% trend_chart chart %}", chart=Chart("flow", "Flow", "ml/min", ()))


def test_nothing_recorded_is_said() -> None:
    html = shown(
        "{{ none|hours }};{{ none|day }};{{ none|moment:zone }};{{ none|quantity:'V' }}",
        none=None,
        zone="UTC",
    )
    assert html == "not recorded;not recorded;not recorded;not recorded"


def test_a_progress_piece_asks_again_only_while_the_work_runs() -> None:
    running = shown('{% progress "Planning" 3 10 poll="/job/" %}')
    over = shown('{% progress "Planning" 10 10 result="/plan/" %}')
    assert 'data-poll="/job/"' in running
    assert "data-poll" not in over
    assert 'href="/plan/"' in over
