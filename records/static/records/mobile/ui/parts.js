// The pieces every view is made of.

import { html } from "../../../vendor/mobile/preact-htm.js";

export { html };

const SHAPES = {
  stop: html`<rect class="full" x="1" y="1" width="14" height="14" />`,
  soon: html`<g><rect x="1" y="1" width="14" height="14" /><path class="full" d="M1 1h7v14H1z" /></g>`,
  clear: html`<circle cx="8" cy="8" r="6.5" />`,
  unknown: html`<circle cx="8" cy="8" r="6.5" stroke-dasharray="2.5 2.6" />`,
};

export const Mark = ({ level }) => html`
  <svg class="mark" viewBox="0 0 16 16" aria-hidden="true" focusable="false">${SHAPES[level] ?? SHAPES.unknown}</svg>`;

export const Status = ({ level, words, detail }) => html`
  <span class=${`status status-${level}`}><${Mark} level=${level} /><span><span class="status-words">${words}</span>
  ${detail && html` <span class="status-detail">${detail}</span>`}</span></span>`;

export const Caution = ({ title, children }) => html`
  <div class="caution" role="note" aria-label="Caution">
    <p class="caution-head"><${Mark} level="stop" />CAUTION${title ? `: ${title}` : ""}</p>
    <div class="caution-body">${children}</div>
  </div>`;

export const Facts = ({ rows }) => html`
  <dl class="facts facts-rows">${rows.filter(([, value]) => value).map(([name, value]) => html`
    <div key=${name}><dt>${name}</dt><dd>${value}</dd></div>`)}</dl>`;

export const Empty = ({ title, children }) => html`
  <div class="empty"><p class="empty-title">${title}</p>${children}</div>`;

export const Field = ({ id, label, help, children }) => html`
  <div class="field"><label for=${id}>${label}</label>${help && html`<p class="field-help" id=${`${id}-help`}>${help}</p>`}
  <div class="field-control">${children}</div></div>`;

const LEVELS = {
  pass: "clear", conditional_pass: "soon", conditional_fail: "soon", fail: "stop", invalid: "stop", incomplete: "unknown",
};
const WORDS = {
  pass: "Inside its limits", conditional_pass: "Inside, within the uncertainty", conditional_fail: "Outside, within the uncertainty",
  fail: "Outside its limits", invalid: "No evidence", incomplete: "Not complete yet",
};

export const levelOf = (outcome) => LEVELS[outcome] ?? "unknown";
export const outcomeWords = (outcome) => WORDS[outcome] ?? outcome;

// One provisional verdict: word, shape, margin. The server decides.
export const Verdict = ({ outcome, reason, label }) => html`
  <div class=${`verdict verdict-${levelOf(outcome)}`}>
    <p class="verdict-head"><${Status} level=${levelOf(outcome)} words=${outcomeWords(outcome)} detail="provisional" /></p>
    <p>${label && html`<strong>${label}: </strong>`}${reason}</p>
  </div>`;

export const Why = ({ title, children, open }) => html`
  <details class="fold" open=${open}><summary><span>${title}</span></summary><div class="fold-body">${children}</div></details>`;

const SAFETY = "The aircraft’s approved maintenance data, the authority’s rules and licensed staff decide; "
  + "this tool does not replace them.";
export const Safety = () => html`<p class="safety">${SAFETY}</p>`;
