// One reading: what is allowed, the number as it is typed, and what it comes to at once.

import { html, useState } from "../../../vendor/mobile/preact-htm.js";
import { Refused } from "../judge/refused.js";
import { describe, limitFrom } from "../judge/limits.js";
import { judgeAnswer } from "../judge/procedure.js";
import { unitLabel, unitOf, unitsLike } from "../judge/quantities.js";
import { bareAnswers, outletCodes, pointOf } from "../core/run.js";
import { Pad } from "../ui/pad.js";
import { Verdict } from "../ui/parts.js";

export const unitsFor = (code) => unitsLike(code).map((each) => ({ code: each, label: unitLabel(each) || each }));
export const isTemperature = (code) => unitOf(code).dimension === "temperature";

export const Allowed = ({ point }) => html`
  <p class="allowed">Allowed: <strong>${describe(limitFrom(point.limit))}</strong></p>`;

// Judges an answer not entered yet; a number that cannot be judged is explained, not thrown.
export function tryOut(run, step, answer) {
  try {
    return { parts: judgeAnswer(run.content, outletCodes(run), { ...bareAnswers(run), [step.key]: answer }, step, run.lot?.density) };
  } catch (refusal) {
    if (!(refusal instanceof Refused)) throw refusal;
    return { parts: [], refusal };
  }
}

// How a reading was brought to what is judged stands before the verdict, unless the verdict says it already.
function reasonOf(part, isShort) {
  const { reason } = part.verdict;
  const notes = isShort ? [] : part.notes.filter((words) => !reason.includes(words));
  return [...notes, reason].join("; ");
}

const sentence = (words) => `${words.charAt(0).toUpperCase()}${words.slice(1)}.`;
const refusalWords = ({ value, detail, remedy }) => `${sentence(value ? `“${value}” ${detail}` : detail)} ${sentence(remedy)}`;

export const Judged = ({ judged, isTyped, isShort }) => html`
  <div class="judged" role="status" aria-live="polite">
    ${judged.refusal && isTyped && html`<p class="field-error">${refusalWords(judged.refusal.reasons[0])}</p>`}
    ${isTyped && judged.parts.map((part) => html`
      <${Verdict} key=${part.key} label=${part.label} outcome=${part.verdict.outcome} reason=${reasonOf(part, isShort)} />`)}
  </div>`;

export function ReadingStep({ run, step, onAnswer, onDraft }) {
  const point = pointOf(run, step.point);
  const kept = run.drafts[step.key] ?? {};
  const [value, setValue] = useState(kept.value ?? "");
  const [unit, setUnit] = useState(kept.unit ?? point.unit);
  const answer = { value, unit };
  const judged = value ? tryOut(run, step, answer) : { parts: [] };
  const type = (text) => {
    setValue(text);
    onDraft({ value: text, unit });
  };
  const change = (code) => {
    setUnit(code);
    onDraft({ value, unit: code });
  };
  const fields = [{ name: "value", label: point.name, value, unit, units: unitsFor(point.unit), onUnit: change }];
  const enter = {
    words: `Enter ${value ? `${value}\u00a0${unitLabel(unit)}` : "the reading"}`,
    isOff: !value || Boolean(judged.refusal), act: () => onAnswer(answer),
  };
  return html`
    <${Allowed} point=${point} />
    <${Pad} fields=${fields} at="value" onAt=${() => {}} onType=${(_, text) => type(text)} signed=${isTemperature(unit)} enter=${enter}>
      <${Judged} judged=${judged} isTyped=${value !== ""} /></${Pad}>`;
}
