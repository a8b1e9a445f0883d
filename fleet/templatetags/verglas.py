"""Everything a screen is made of: `{% load verglas %}` brings every tag and filter listed here.

In brackets: optional arguments and what they are when left out. "block": a tag that ends with its name after
"end" (`{% panel "Open tasks" %} … {% endpanel %}`); its content is ordinary template text.
LEVEL: "stop" (filled square: overdue, failed, not releasable), "soon" (half square: needs attention),
"clear" (ring: nothing to do), "unknown" (broken ring). KIND: "primary", "quiet", "danger", "plain".

The page: extend "base.html"; blocks title (also the heading), crumbs, heading, lead, actions, main, styles,
scripts. "entrance.html" is the single card of signing in; "error_page.html" the page of a refusal.
  crumbs LABEL URL LABEL URL … LABEL      in block crumbs; the last label is the page itself
  tabs ENTRIES CURRENT [label="Views"]    ENTRIES: (name, url) or (name, url, count); CURRENT is a name
  print_button [label="Print"]            only shown where scripts run
  safety                                  the footer sentence; base.html already carries it

Status and reasons
  mark LEVEL                              the shape alone, always next to words
  status LEVEL WORDS [detail=""] [size="" or "large"]
  status_why LEVEL WORDS [detail=""] [ask="Why?"]       block: the answer, opened by one tap
  why [ask="Why?"]                        block: a reason without a status
  caution [level="caution" or "warning"] [title=""]     block: stands before the step it concerns
  note [title=""]                         block
  empty TITLE                             block: what stands where a list would, and what to do next

Buttons and forms
  button LABEL [KIND="quiet"] [name=""] [value=""] [form=""]        a submit button
  link_button LABEL URL [KIND="quiet"]
  confirm ID label=… action=… [title=label] [yes=label] [kind="danger"]
                                          block: a button, and the dialog with a POST form that it opens
  action_form ACTION SUBMIT [KIND="primary"]            block: a POST form with its token and one button
  field BOUND [unit=""] [help=""]         label, help, control, unit, errors with the value entered
  fields FORM                             all fields of a form
  error_summary [FORM] [refusal=None]     top of the form; a Refusal's reasons lead to the fields they name
  icon NAME                               a symbol of deploy/icons.svg, hidden from those who listen

Tables and lists
  data_table CAPTION [keep=False] [show_caption=False]  block: thead and tbody. On a phone each row becomes a
      block: give every <td> data-label="Due" and put the row's name into <th scope="row">; keep=True keeps
      columns and scrolls. Classes: number (right), acts (buttons), nowrap, <tr class="table-group"> heads a group
  column LABEL [sort=""] [number=False] [first="up"]    a <th>; sort is the word put into ?sort= ("-" = down)
  pager PAGE [what="row"]                 a Django Page (?page=), or next_cursor and previous_cursor (?after=,
                                          ?before=) and, if known, total; what: "task" or "battery,batteries"
  filters [search=""] [label="Filter"]    block: GET form; search is the label of the ?q= box
  filter_choice NAME LABEL OPTIONS [every="All"]        inside filters; OPTIONS: (value, words)
  filter_date NAME LABEL                  inside filters
  query KEY=VALUE …                       the present query changed, as "?…"; an empty value takes a key away
  card TITLE [url=""] [level=""] [words=""]             block, inside <ul class="cards">: a row for a phone

Facts and instruments
  facts PAIRS [shape="boxes" or "rows"]   (label, value) pairs or a dict; "not recorded" is said
  fact LABEL                              block, inside <dl class="facts"> or "facts facts-rows": with markup
  panel TITLE [aside=""] [id=""]          block
  timeline ENTRIES [zone="UTC"]           entries: when (date or aware datetime), what; who, detail, url, level
  meter_bar USED LIMIT UNIT [early=None] [label=""]     UNIT "minutes" shows hours; early: attention begins
  trend_chart CHART                       a fleet.common.chart.Chart: drawing, key, events, table of its values
  progress LABEL DONE TOTAL [poll=""] [result=""]       DONE, TOTAL None while unknown; poll is asked every
      2 s for a page holding this piece; one without poll means the work is over, and result is gone to

Filters; nothing recorded becomes "not recorded"
  minutes|hours "1 304:30 h"              minutes|hours_left "12:30 h left"
  date|day "14 Mar 2026"                  date|weekday "Sat 14 Mar"            days|days_left "3 days left"
  datetime|moment:zone "14 Mar 2026, 09:30 CET"                                datetime|clock:zone "09:30 CET"
  value|quantity:"V" "12.50 V"            value|grouped "12 500"               value|or_missing:"words"
  number|counted:"task" "3 tasks"         number|number_left:"landing" "40 landings left"
  seconds|span "1 min 35 s"

Classes a screen may use: stack, stack-wide, cluster, columns, with-aside, soft, figures, nowrap, only-heard,
form, form-pair, form-foot, group (fieldset), step, big-timer, needs-script, without-script.
"""

from __future__ import annotations

from django import template

from fleet.templatetags import (
    verglas_blocks,
    verglas_forms,
    verglas_instruments,
    verglas_tables,
    verglas_words,
)

register = template.Library()

for part in (verglas_blocks, verglas_forms, verglas_instruments, verglas_tables, verglas_words):
    register.tags.update(part.register.tags)
    register.filters.update(part.register.filters)
